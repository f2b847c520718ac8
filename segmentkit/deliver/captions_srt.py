"""SubRip-style text: numbered captions with a comma before the thousandths. It knows no places and no speakers.

There is no standard; what is written here is what the common readers agree on: no markup, so that `<` stays a letter.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from segmentkit.deliver.captions_vtt import clock, moment
from segmentkit.errors import MediaUnusable
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.timebase import Rate, Span, frame_of_milliseconds

_TIMES = re.compile(r"(\d{2,}:[0-5]\d:[0-5]\d,\d{3}) --> (\d{2,}:[0-5]\d:[0-5]\d,\d{3})[ \t]*", re.ASCII)


def srt_captions(captions: Sequence[Caption], rate: Rate) -> str:
    """Captions as SubRip-style text, with the line ends that old players want."""
    blocks = []
    for number, caption in enumerate(captions, 1):
        start, end = (clock(frame, rate).replace(".", ",") for frame in (caption.span.start, caption.span.end))
        blocks.append("\r\n".join([str(number), f"{start} --> {end}", *caption.lines]))
    return "\r\n\r\n".join(blocks) + "\r\n" if blocks else ""


def read_srt(text: str, rate: Rate, usual: CaptionPlace) -> tuple[Caption, ...]:
    """Captions of SubRip-style text; all stand at the usual place.

    Raises:
        MediaUnusable: when a caption has no pair of moments, or ends before it starts.
    """
    found: list[Caption] = []
    blocks = re.split(r"\n{2,}", text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").strip("\n"))
    for index, block in enumerate(blocks if blocks != [""] else [], 1):
        lines = block.split("\n")
        if lines[0].strip().isdecimal():
            lines = lines[1:]
        match = _TIMES.fullmatch(lines[0]) if lines else None
        start, end = (moment(match[k].replace(",", ".")) if match else None for k in (1, 2))
        if start is None or end is None or end <= start:
            raise MediaUnusable(
                f"captions, number {index} — has no start and later end — a caption begins with a line such as "
                "00:00:01,000 --> 00:00:02,000 — correct it"
            )
        span = Span(frame_of_milliseconds(start, rate), frame_of_milliseconds(end, rate))
        found.append(Caption(span=span, lines=tuple(lines[1:]), speaker="", place=usual))
    return tuple(found)
