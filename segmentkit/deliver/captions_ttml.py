"""Timed text in XML: IMSC 1.1 Text (W3C) counted in frames, and EBU-TT-D (EBU Tech 3380) in media time; out and in.

Both are TTML with the same regions and styles. IMSC may count frames, which is exact at any rate; EBU-TT-D may not.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from enum import Enum
from fractions import Fraction
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

from segmentkit.deliver.captions_vtt import clock, moment
from segmentkit.errors import MediaUnusable
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.storyboard.caption_rules import CaptionRules
from segmentkit.timebase import Rate, Span, frame_of_milliseconds

_NS = {
    "": "http://www.w3.org/ns/ttml",
    "ttp": "http://www.w3.org/ns/ttml#parameter",
    "tts": "http://www.w3.org/ns/ttml#styling",
    "ttm": "http://www.w3.org/ns/ttml#metadata",
    "itts": "http://www.w3.org/ns/ttml/profile/imsc1#styling",
    "ebutts": "urn:ebu:tt:style",
    "ebuttm": "urn:ebu:tt:metadata",
}
_XML = "{http://www.w3.org/XML/1998/namespace}"
_IMSC = "http://www.w3.org/ns/ttml/profile/imsc1.1/text"
_EBU = "urn:ebu:tt:distribution:2018-04"
_ROWS = 30
_LEADING = Fraction(5, 4)


class Dialect(Enum):
    """Which constraints the document keeps."""

    IMSC = "imsc"
    EBU_TT_D = "ebu-tt-d"


def ttml_captions(
    captions: Sequence[Caption], rate: Rate, rules: CaptionRules, language: str = "en", dialect: Dialect = Dialect.IMSC
) -> str:
    """Captions as a TTML document, UTF-8."""
    places = list(dict.fromkeys(caption.place for caption in captions))
    regions = {place: "usual" if place.usual else f"place{number}" for number, place in enumerate(places, 1)}
    speakers = list(dict.fromkeys(caption.speaker for caption in captions if caption.speaker))
    agents = {name: f"speaker{number}" for number, name in enumerate(speakers, 1)} if dialect is Dialect.IMSC else {}
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        _root(rate, language, dialect),
        "<head>",
        *_metadata(agents, dialect),
        *_styling(rules, dialect),
        "<layout>",
        *(_region(place, id_, rules) for place, id_ in regions.items()),
        "</layout>",
        "</head>",
        '<body style="base">',
        "<div>",
    ]
    for number, caption in enumerate(captions, 1):
        begin, end = (_time(frame, rate, dialect) for frame in (caption.span.start, caption.span.end))
        who = f' ttm:agent="{agents[caption.speaker]}"' if caption.speaker in agents else ""
        style = ' style="rtl"' if _right_to_left(caption.text) else ""
        text = "<br/>".join(f'<span style="text">{escape(line)}</span>' for line in caption.lines)
        lines.append(
            f'<p xml:id="caption{number}" region="{regions[caption.place]}" begin="{begin}" end="{end}"{style}{who}>'
            f"{text}</p>"
        )
    lines += ["</div>", "</body>", "</tt>", ""]
    return "\n".join(lines)


def _root(rate: Rate, language: str, dialect: Dialect) -> str:
    spaces = " ".join(f'xmlns{":" if name else ""}{name}="{uri}"' for name, uri in _NS.items())
    counted = ""
    if dialect is Dialect.IMSC:
        part = rate.fps / rate.nominal
        counted = (
            f' ttp:contentProfiles="{_IMSC}" ttp:frameRate="{rate.nominal}"'
            f' ttp:frameRateMultiplier="{part.numerator} {part.denominator}"'
        )
    return f'<tt {spaces} xml:lang={quoteattr(language)} ttp:timeBase="media" ttp:cellResolution="50 {_ROWS}"{counted}>'


def _metadata(agents: dict[str, str], dialect: Dialect) -> list[str]:
    if dialect is Dialect.EBU_TT_D:
        return [
            "<metadata><ebuttm:documentMetadata>"
            f"<ebuttm:conformsToStandard>{_EBU}</ebuttm:conformsToStandard>"
            "</ebuttm:documentMetadata></metadata>"
        ]
    return [
        "<metadata>",
        *(
            f'<ttm:agent xml:id="{id_}" type="person"><ttm:name type="full">{escape(name)}</ttm:name></ttm:agent>'
            for name, id_ in agents.items()
        ),
        "</metadata>",
    ]


def _styling(rules: CaptionRules, dialect: Dialect) -> list[str]:
    size = _number(Fraction(rules.line_height) / _LEADING * _ROWS)
    fill = ' itts:fillLineGap="true"' if dialect is Dialect.IMSC else ""
    return [
        "<styling>",
        f'<style xml:id="base" tts:fontFamily="proportionalSansSerif" tts:fontSize="{size}%" '
        f'tts:lineHeight="{_number(_LEADING * 100)}%" tts:textAlign="center" tts:color="#ffffff" '
        f'tts:wrapOption="noWrap" ebutts:linePadding="0.5c"{fill}/>',
        '<style xml:id="text" tts:backgroundColor="#000000c2"/>',
        '<style xml:id="rtl" tts:direction="rtl" tts:unicodeBidi="embed"/>',
        "</styling>",
    ]


def _region(place: CaptionPlace, id_: str, rules: CaptionRules) -> str:
    height = Fraction(rules.line_height) * round(rules.lines)
    x = place.centre - Fraction(place.size, 2)
    y = place.edge if place.top else place.edge - height
    align = "before" if place.top else "after"
    return (
        f'<region xml:id="{id_}" tts:origin="{_number(x)}% {_number(Fraction(y))}%" '
        f'tts:extent="{_number(Fraction(place.size))}% {_number(height)}%" tts:displayAlign="{align}" '
        'tts:overflow="visible"/>'
    )


def _time(frame: int, rate: Rate, dialect: Dialect) -> str:
    return f"{frame}f" if dialect is Dialect.IMSC else clock(frame, rate)


def _number(value: Fraction) -> str:
    return f"{float(value):.3f}".rstrip("0").rstrip(".")


def _right_to_left(text: str) -> bool:
    """Whether the first letter with a direction runs from right to left (Unicode UAX 9, rule P2)."""
    directions = (unicodedata.bidirectional(character) for character in text)
    return next((one in {"R", "AL"} for one in directions if one in {"L", "R", "AL"}), False)


def read_ttml(text: str, rate: Rate) -> tuple[Caption, ...]:
    """Captions of a document such as `ttml_captions` writes: one paragraph a caption, regions in per cent.

    Args:
        text: the document.
        rate: at which its moments become frames.

    Raises:
        MediaUnusable: when it is no such document, or declares entities of its own.
    """
    if re.search(r"<!(DOCTYPE|ENTITY)", text):
        raise MediaUnusable("captions — the document declares entities — timed text has none — take them out")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise MediaUnusable(f"captions — no well-formed XML: {error} — give a TTML document") from None
    places = {str(one.get(f"{_XML}id")): _read_place(one) for one in root.iter(_tag("region"))}
    names = {str(one.get(f"{_XML}id")): "".join(one.itertext()) for one in root.iter(f"{{{_NS['ttm']}}}agent")}
    found = []
    for paragraph in root.iter(_tag("p")):
        begin, end = (_frame(paragraph.get(key, ""), rate) for key in ("begin", "end"))
        region = paragraph.get("region", "")
        if begin is None or end is None or end <= begin or region not in places:
            id_ = paragraph.get(f"{_XML}id", "without an id")
            raise MediaUnusable(
                f"captions, paragraph {id_} — has no region, or no start and later end — write region, begin and end"
            )
        found.append(
            Caption(
                span=Span(begin, end),
                lines=tuple("".join(parts) for parts in _broken(paragraph)),
                speaker=names.get(paragraph.get(f"{{{_NS['ttm']}}}agent", ""), ""),
                place=places[region],
            )
        )
    return tuple(found)


def _tag(name: str) -> str:
    return f"{{{_NS['']}}}{name}"


def _broken(paragraph: ElementTree.Element) -> list[list[str]]:
    lines: list[list[str]] = [[paragraph.text or ""]]
    for child in paragraph:
        if child.tag == _tag("br"):
            lines.append([])
        else:
            lines[-1].append("".join(child.itertext()))
        lines[-1].append(child.tail or "")
    return lines


def _frame(text: str, rate: Rate) -> int | None:
    if match := re.fullmatch(r"(\d+)f", text):
        return int(match[1])
    milliseconds = moment(text)
    return None if milliseconds is None else frame_of_milliseconds(milliseconds, rate)


def _read_place(region: ElementTree.Element) -> CaptionPlace:
    style = f"{{{_NS['tts']}}}"
    x, y = (Fraction(part.rstrip("%")) for part in str(region.get(f"{style}origin")).split())
    width, height = (Fraction(part.rstrip("%")) for part in str(region.get(f"{style}extent")).split())
    top = region.get(f"{style}displayAlign") != "after"
    return CaptionPlace(
        top=top,
        edge=round(y if top else y + height),
        centre=round(x + width / 2),
        size=round(width),
        usual=region.get(f"{_XML}id") == "usual",
    )
