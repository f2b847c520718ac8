"""WebVTT (W3C, web-platform form): captions and chapters out, and back in.

Moments are whole milliseconds, rounded down: the moment of a frame is then never later than the frame itself, so a
player that stands on the frame shows its caption, and the frame before it does not.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import unescape

from segmentkit.errors import MediaUnusable
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.plan.model import Plan
from segmentkit.timebase import Rate, Span, frame_of_milliseconds, milliseconds_of_frame

_TIME = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})", re.ASCII)
_ARROW = re.compile(r"[ \t]+-->[ \t]+")


def clock(frame: int, rate: Rate) -> str:
    """The moment of a frame as WebVTT writes it, hours always given."""
    seconds, thousandths = divmod(milliseconds_of_frame(frame, rate), 1000)
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}.{thousandths:03}"


def moment(text: str) -> int | None:
    """A WebVTT timestamp in milliseconds; None when it is not one."""
    match = _TIME.fullmatch(text)
    if match is None:
        return None
    hours, minutes, seconds, thousandths = (int(part or 0) for part in match.groups())
    return ((hours * 60 + minutes) * 60 + seconds) * 1000 + thousandths


def vtt_captions(captions: Sequence[Caption], rate: Rate, language: str = "en") -> str:
    """Captions as a WebVTT file."""
    blocks = [f"WEBVTT\n\nNOTE Language: {_note(language)}"]
    for number, caption in enumerate(captions, 1):
        settings = place_settings(caption.place)
        times = f"{clock(caption.span.start, rate)} --> {clock(caption.span.end, rate)}"
        body = "\n".join(escaped(line) for line in caption.lines)
        voice = f"<v {_annotation(caption.speaker)}>" if caption.speaker else ""
        blocks.append(f"{number}\n{times}{' ' + settings if settings else ''}\n{voice}{body}")
    return "\n\n".join(blocks) + "\n"


def vtt_chapters(plan: Plan) -> str:
    """One chapter for each beat, one after the other and without overlap, as the specification asks of chapters."""
    blocks = ["WEBVTT"]
    for beat in plan.beats:
        times = f"{clock(beat.span.start, plan.rate)} --> {clock(beat.span.end, plan.rate)}"
        blocks.append(f"{times}\n{escaped(beat.id.replace('_', ' ').capitalize())}")
    return "\n\n".join(blocks) + "\n"


def escaped(text: str) -> str:
    """Text as cue text: what would be read as markup is written as a reference."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _annotation(text: str) -> str:
    return escaped(" ".join(text.split()))


def _note(text: str) -> str:
    return text.replace("-->", "->")


def place_settings(place: CaptionPlace) -> str:
    """Cue settings of a place; none for the usual one at the foot, where players put captions by themselves."""
    if place.usual:
        return ""
    return (
        f"line:{place.edge}%,{'start' if place.top else 'end'} position:{place.centre}% size:{place.size}% align:center"
    )


def read_vtt(text: str, rate: Rate, usual: CaptionPlace) -> tuple[Caption, ...]:
    """Captions of a WebVTT file.

    Args:
        text: the file's text.
        rate: at which moments become frames, each the nearest.
        usual: the place of a caption without settings.

    Raises:
        MediaUnusable: when it is no WebVTT file, or a cue breaks the specification.
    """
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not re.fullmatch(r"WEBVTT(?:[ \t].*)?", lines[0]):
        raise MediaUnusable("captions, line 1 — does not begin with WEBVTT — give a WebVTT file")
    found: list[Caption] = []
    for start, block in _blocks(lines):
        if block[0].startswith(("NOTE", "STYLE", "REGION")) and "-->" not in block[0]:
            continue
        at = 0 if "-->" in block[0] else 1
        if at < len(block) and "-->" in block[at]:
            caption = _cue(block[at:], start + at, rate, usual)
            if found and caption.span.start < found[-1].span.start:
                raise _fault(start + at, "starts before the cue above it", "put the cues in order of time")
            found.append(caption)
    return tuple(found)


def _blocks(lines: Sequence[str]) -> Iterable[tuple[int, list[str]]]:
    """Stretches of lines without a blank one, each with the number of its first line."""
    block: list[str] = []
    for number, line in enumerate(lines[1:], 2):
        if line:
            block.append(line)
        elif block:
            yield number - len(block), block
            block = []
    if block:
        yield len(lines) + 1 - len(block), block


def _cue(block: Sequence[str], number: int, rate: Rate, usual: CaptionPlace) -> Caption:
    parts = _ARROW.split(block[0])
    rest = parts[1].split() if len(parts) == 2 else [""]
    start, end = moment(parts[0].strip(" \t")), moment(rest[0])
    if start is None or end is None:
        raise _fault(number, f"{block[0]!r} is not a pair of moments", "write 00:00:01.000 --> 00:00:02.000")
    if end <= start:
        raise _fault(number, f"ends at {rest[0]}, not after its start", "let it end later")
    speaker = ""
    body = "\n".join(block[1:])
    if match := re.match(r"<v(?:\.[^ \t>]*)?[ \t]+([^>]*)>", body):
        speaker, body = unescape(match[1]), body[match.end() :]
    body = re.sub(r"</?[a-zA-Z0-9.:][^>]*>|</[^>]*>", "", body)
    return Caption(
        span=Span(frame_of_milliseconds(start, rate), frame_of_milliseconds(end, rate)),
        lines=tuple(unescape(line) for line in body.split("\n")),
        speaker=speaker,
        place=_place(rest[1:], usual),
    )


def _place(settings: Sequence[str], usual: CaptionPlace) -> CaptionPlace:
    given = dict(one.split(":", 1) for one in settings if ":" in one)
    line = re.fullmatch(r"(\d+)%(?:,(start|center|end))?", given.get("line", ""))
    if line is None:
        return usual
    return CaptionPlace(
        top=line[2] != "end",
        edge=int(line[1]),
        centre=int(given.get("position", "50%").split("%")[0]),
        size=int(given.get("size", "100%").removesuffix("%")),
    )


def _fault(number: int, what: str, remedy: str) -> MediaUnusable:
    return MediaUnusable(f"captions, line {number} — {what} — WebVTT does not allow it — {remedy}")
