"""Clips beside one another at the same moments, at one size and on one ground, on a page to look at before deciding.

Where heel and belt are named at address, every picture is brought to one length between the two and to one heel line;
where they are not, the whole height of the picture is shown, and the caption says so.
"""

from __future__ import annotations

import base64
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.deliver.page import page
from segmentkit.errors import MediaUnusable
from segmentkit.facts import ClipFacts
from segmentkit.season.follow_compare import Sighting
from segmentkit.season.report_page import DARK, LIGHT
from segmentkit.timebase import SourceFrame, Timecode, TimeNotationError, parse_time

Rgb = NDArray[np.uint8]
WIDE, HIGH = 330, 440
_GROUND, _RISE = 0.9, 0.36
"""Where the heel line lies and how far the belt is above it, in heights of the picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One clip on the page.

    Attributes:
        one: the clip.
        name: what stands above it; `below` what stands beneath each of its pictures, such as the date.
        mirror: whether its picture is turned over for the comparison.
        reasons: lines under the column.
    """

    one: Sighting
    name: str
    below: str = ""
    mirror: bool = False
    reasons: tuple[str, ...] = ()


def frame_of(moment: str, facts: ClipFacts) -> int | None:
    """The frame at a moment of a clip, such as `f83` or `1.55s`; None where the clip has no such frame."""
    try:
        time = parse_time(moment)
    except TimeNotationError:
        return None
    if isinstance(time, SourceFrame):
        frame = time.index
    elif isinstance(time, Timecode):
        return None  # labels need a rate that clips of phones do not have
    else:
        frame = bisect_right(facts.times, time.value) - 1
    return frame if 0 <= frame < facts.frames else None


def fitted(picture: Rgb, one: Sighting, mirror: bool) -> Rgb:
    """A picture in its window; uint8, shape (HIGH, WIDE, 3), RGB.

    Args:
        picture: uint8, shape (height, width, 3), RGB, upright, as filmed.
        one: its clip.
        mirror: whether it is turned over for the comparison.
    """
    high, wide = picture.shape[:2]
    spots = one.points.get("address", {})
    heel, belt = spots.get("heel"), spots.get("belt")
    flipped = mirror != one.mirrored
    if heel is not None and belt is not None and heel.y > belt.y:
        scale = _RISE * HIGH / ((heel.y - belt.y) * high)
        at_x, at_y = heel.x * wide, heel.y * high
        to_y = _GROUND * HIGH
    else:
        scale, at_x, at_y, to_y = HIGH / high, wide / 2, high / 2, HIGH / 2
    side = -scale if flipped else scale
    matrix = np.array([[side, 0, WIDE / 2 - side * at_x], [0, scale, to_y - scale * at_y]], np.float64)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    if scale < 1:  # warping alone would skip pixels
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.4 / scale), np.uint8)
        way = cv2.INTER_LINEAR
    return np.asarray(cv2.warpAffine(picture, matrix, (WIDE, HIGH), flags=way, borderValue=(128, 128, 128)), np.uint8)


def pictures(column: Column, positions: Sequence[str]) -> dict[str, bytes]:
    """A JPEG of a clip at each position that it has.

    Raises:
        MediaUnusable: when the clip cannot be used.
        OutputFailed: when the working folder cannot be written to.
    """
    from segmentkit.media.frames import ClipReader  # noqa: PLC0415  decoders load only when there is work for them
    from segmentkit.media.guarded import guarded_clip  # noqa: PLC0415
    from segmentkit.media.stills import planes_to_rgb  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415

    facts = guarded_clip(column.one.file, Store.of(column.one.home)).facts
    made = {}
    with ClipReader(facts) as reader:
        for position in positions:
            frame = frame_of(column.one.positions.get(position, ""), facts)
            if frame is not None:
                rgb = fitted(planes_to_rgb(reader.planes(frame)), column.one, column.mirror)
                done, data = cv2.imencode(".jpg", np.ascontiguousarray(rgb[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, 85])
                if not done:
                    raise MediaUnusable(f"{column.one.file} — frame f{frame} could not be written as a picture")
                made[position] = data.tobytes()
    return made


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}: {value};" for name, value in colours.items())


_STYLE = f"""
:root {{ color-scheme: light dark; {_variables(LIGHT)} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_variables(DARK)} }} }}
body {{ margin: 0; padding: 24px; background: var(--ground); color: var(--ink); font: 15px/1.4 Signika, sans-serif; }}
h1 {{ font-size: 24px; font-weight: 600; margin: 0 0 4px; }}
h2 {{ font-size: 17px; margin: 18px 0 8px; font-weight: 600; }}
.row {{ display: flex; flex-wrap: wrap; gap: 12px; }} .quiet {{ color: var(--quiet); }}
figure {{ margin: 0; width: {WIDE // 2 + 60}px; break-inside: avoid; }}
figure img, figure .none {{ display: block; width: 100%; aspect-ratio: {WIDE}/{HIGH}; background: var(--line);
  border-radius: 4px; }}
figure .none {{ display: grid; place-items: center; color: var(--ink); }}
figcaption {{ margin-top: 4px; }} ul {{ margin: 6px 0; padding-left: 20px; }}
@media print {{ :root {{ {_variables({**LIGHT, "ground": "#fff", "paper": "#fff"})} }} body {{ padding: 0; }} }}
@page {{ size: A4 landscape; margin: 10mm; }}
"""


def beside_page(title: str, columns: Sequence[Column], positions: Sequence[str], notes: Sequence[str] = ()) -> str:
    """The page: a row a position, a picture a clip, its date beneath.

    Args:
        title: of the page.
        columns: the clips.
        positions: the moments, in order.
        notes: what must be said of the comparison.

    Raises:
        MediaUnusable: when a clip cannot be used.
        OutputFailed: when the working folder cannot be written to.
    """
    made = [pictures(column, positions) for column in columns]
    rows = []
    for position in positions:
        figures = "".join(
            _figure(column, position, there.get(position)) for column, there in zip(columns, made, strict=True)
        )
        rows.append(f'<h2>{escape(position.replace("_", " "))}</h2><div class="row">{figures}</div>')
    listed = "".join(f"<li>{escape(note)}</li>" for note in notes)
    reasons = "".join(
        f"<h2>{escape(column.name)}</h2><ul>{''.join(f'<li>{escape(r)}</li>' for r in column.reasons)}</ul>"
        for column in columns
        if column.reasons
    )
    body = f"<h1>{escape(title)}</h1><ul class=quiet>{listed}</ul>{''.join(rows)}{reasons}"
    return page(title, _STYLE, body)


def _figure(column: Column, position: str, data: bytes | None) -> str:
    about = " · ".join(filter(None, (column.below, "mirrored" if column.mirror else "", _size(column.one))))
    if data is None:
        inner = '<div class="none">no such moment</div>'
    else:
        url = base64.b64encode(data).decode("ascii")
        inner = f'<img alt="{escape(f"{column.name}, {position}", quote=True)}" src="data:image/jpeg;base64,{url}">'
    return f"<figure>{inner}<figcaption><b>{escape(column.name)}</b><br>{escape(about)}</figcaption></figure>"


def _size(one: Sighting) -> str:
    spots = one.points.get("address", {})
    return "" if "heel" in spots and "belt" in spots else "size not matched"
