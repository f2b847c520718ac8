"""A drawing in SVG that knows where its letters are.

Widths are measured in the very font the drawing names, so that text can be fitted before it is placed, and each label
leaves its box behind: whether labels collide is then arithmetic and not a matter of looking.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from html import escape
from pathlib import Path

from PIL import ImageFont

from segmentkit.geometry import Rect
from segmentkit.resources import templates_folder

FAMILY = "Signika"
REGULAR, STRONG = 400, 600
_FILES = {REGULAR: "Signika-Regular.ttf", STRONG: "Signika-SemiBold.ttf"}
_ABOVE, _BELOW = 0.74, 0.22
_MEASURED_AT = 100


def font_file(weight: int = REGULAR) -> Path:
    """The file of the font that paper work is set in."""
    return templates_folder() / "fonts" / "signika" / _FILES[weight]


@cache
def _font(weight: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(font_file(weight)), _MEASURED_AT)


@cache
def text_width(text: str, size: float, weight: int = REGULAR) -> float:
    """Width of a text set on one line, in the units of `size`."""
    return _font(weight).getlength(text) * size / _MEASURED_AT


def fitted(text: str, width: float, size: float, weight: int = REGULAR) -> str:
    """The text, or as much of its start as fits, with an ellipsis; empty when not even two letters fit."""
    if text_width(text, size, weight) <= width:
        return text
    for length in range(len(text) - 1, 1, -1):
        short = text[:length].rstrip(" ,.;:") + "…"
        if text_width(short, size, weight) <= width:
            return short
    return ""


def first_fitting(texts: Sequence[str], width: float, size: float, weight: int = REGULAR) -> str:
    """The first of some ways to say a thing that fits; empty when none does."""
    return next((text for text in texts if text_width(text, size, weight) <= width), "")


def font_faces() -> str:
    """The fonts as CSS that needs no network."""
    faces = []
    for weight in _FILES:
        data = base64.b64encode(font_file(weight).read_bytes()).decode("ascii")
        faces.append(
            f"@font-face{{font-family:{FAMILY};font-weight:{weight};"
            f"src:url(data:font/ttf;base64,{data}) format('truetype')}}"
        )
    return "\n".join(faces)


class Sheet:
    """Collects shapes and labels.

    Attributes:
        labels: each text that was set, with its box.
    """

    def __init__(self) -> None:
        self._items: list[str] = []
        self.labels: list[tuple[str, Rect]] = []

    def svg(self, width: float, height: float, *, fonts: bool = True) -> str:
        """The drawing as an SVG document of its own; without `fonts` the page around it must bring them."""
        style = f"<style>{font_faces()}</style>" if fonts else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
            f'width="{_n(width)}" height="{_n(height)}" font-family="{FAMILY}, sans-serif">'
            f"{style}\n" + "\n".join(self._items) + "\n</svg>\n"
        )

    def here(self) -> int:
        """The place in the drawing order after what was drawn last."""
        return len(self._items)

    def lay_under(self, since: int, under: int) -> None:
        """Moves what was drawn from place `since` on beneath what was drawn from place `under` on."""
        moved = self._items[since:]
        self._items[since:] = []
        self._items[under:under] = moved

    @contextmanager
    def titled(self, title: str) -> Iterator[None]:
        """Everything drawn inside says `title` when it is pointed at."""
        self._items.append(f"<g><title>{escape(title, quote=False)}</title>")
        yield
        self._items.append("</g>")

    def rect(
        self, x: float, y: float, width: float, height: float, fill: str, *, stroke: str = "none", radius: float = 0,
        opacity: float = 1, dash: str = "",
    ) -> None:  # fmt: skip
        """A rectangle."""
        self._items.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(max(0, width))}" height="{_n(max(0, height))}" fill="{fill}"'
            + (f' stroke="{stroke}" stroke-width="0.8"' if stroke != "none" else "")
            + (f' rx="{_n(radius)}"' if radius else "")
            + (f' opacity="{_n(opacity)}"' if opacity != 1 else "")
            + (f' stroke-dasharray="{dash}"' if dash else "")
            + "/>"
        )

    def line(
        self, x0: float, y0: float, x1: float, y1: float, colour: str, *, width: float = 0.6, dash: str = ""
    ) -> None:
        """A straight line."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._items.append(
            f'<line x1="{_n(x0)}" y1="{_n(y0)}" x2="{_n(x1)}" y2="{_n(y1)}" stroke="{colour}" '
            f'stroke-width="{_n(width)}"{dashed}/>'
        )

    def polygon(self, points: Sequence[tuple[float, float]], fill: str, *, opacity: float = 1) -> None:
        """A filled shape."""
        listed = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        shown = f' opacity="{_n(opacity)}"' if opacity != 1 else ""
        self._items.append(f'<polygon points="{listed}" fill="{fill}"{shown}/>')

    def image(self, x: float, y: float, width: float, height: float, data: bytes, kind: str = "jpeg") -> None:
        """A picture, its middle filling the rectangle."""
        url = base64.b64encode(data).decode("ascii")
        self._items.append(
            f'<svg x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}">'
            f'<image width="100%" height="100%" preserveAspectRatio="xMidYMid slice" '
            f'href="data:image/{kind};base64,{url}"/></svg>'
        )

    def text(
        self, x: float, y: float, text: str, size: float, colour: str, *, weight: int = REGULAR, anchor: str = "start"
    ) -> None:
        """One line of text on the baseline `y`; nothing when it is empty."""
        self.runs(x, y, [(text, colour, weight)], size, anchor=anchor)

    def runs(
        self, x: float, y: float, runs: Sequence[tuple[str, str, int]], size: float, *, anchor: str = "start"
    ) -> None:
        """One line of text in several colours and weights: text, colour, weight of each stretch."""
        whole = "".join(text for text, _, _ in runs)
        if not whole.strip():
            return
        width = sum(text_width(text, size, weight) for text, _, weight in runs)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        self.labels.append((whole, Rect(left, y - _ABOVE * size, width, (_ABOVE + _BELOW) * size)))
        spans = "".join(_span(text, colour, weight) for text, colour, weight in runs)
        placed = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self._items.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" xml:space="preserve"{placed}>{spans}</text>'
        )


def _span(text: str, colour: str, weight: int) -> str:
    bold = f' font-weight="{weight}"' if weight != REGULAR else ""
    return f'<tspan fill="{colour}"{bold}>{escape(text, quote=False)}</tspan>'


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
