"""Texts as they were drawn: large enough, clear enough, whole, and inside the safe area."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from unicodedata import east_asian_width

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import counted, number, quoted
from segmentkit.facts import TextFacts
from segmentkit.findings import Severity

_NAMED = 6
"""So many characters without a glyph are named."""
_IDEOGRAPHS = (
    "install the fonts Noto Sans CJK and Noto Serif CJK, which the looks know (fonts-noto-cjk in Debian and Ubuntu), "
    "or name a font that has them under fallback in the look"
)
CONTRAST_FLOOR = 4.5
CAP_HEIGHT_FLOOR = 30.0
SAFE_MARGIN = Fraction(5, 100)


def _drawn_where(text: TextFacts) -> str:
    return f"beat {text.beat}, {text.kind.replace('_', ' ')}"


def _drawn_path(context: CheckContext, text: TextFacts) -> tuple[Step, ...]:
    index = context.index_of(text.beat)
    beat = context.board.beats[index]
    match text.kind:
        case "title" | "end_board":
            return ("beats", index, "show", text.index, text.kind)
        case "pane_label":
            return ("beats", index, "show", text.index)
        case "stroke_label":
            id_ = next((id_ for id_, stroke in beat.strokes.items() if stroke.label == text.text), None)
            return ("beats", index) if id_ is None else ("beats", index, "strokes", id_, "label")
        case "guide_mark":
            return ("beats", index)
        case _:
            return ("beats", index, "cards", text.index, text.kind)


@check("text-too-small", Severity.WARNING)
def text_too_small(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """People watch from across the room.

    Capitals of 45 px at a height of 1080 are the 24 lines of standard definition that tiresias.org gives as the least
    for text on television. What is read second, such as the line under a name, may have the 20 lines that it gives for
    subtitles: 37.5 px. Under 30 px, the 16 lines of the British guidance for advertisements (BCAP guidance note 1), it
    is an error.
    """
    scale = min(context.plan.size.width, context.plan.size.height) / 1080
    for text in context.texts:
        at_1080 = text.cap_height / scale
        wanted = limits.cap_height_second if text.secondary else limits.cap_height
        if at_1080 >= wanted:
            continue
        yield Remark(
            where=_drawn_where(text),
            what=f"the capitals of {quoted(text.text, 40)} are {at_1080:.0f} px high at a picture height of 1080 — "
            f"{number(wanted)} px is easy to read{' for a second line' if text.secondary else ''}, "
            f"{CAP_HEIGHT_FLOOR:.0f} px the least",
            remedy="use fewer words, or a larger size in the look",
            path=_drawn_path(context, text),
            numbers=(("cap_height_1080", round(at_1080, 1)), ("wanted", wanted)),
            severity=Severity.ERROR if at_1080 < CAP_HEIGHT_FLOOR else None,
        )


def _cut(ratio: float) -> str:
    """A ratio with its last decimals cut off and not rounded: 4.499 is not 4.5."""
    return f"{int(ratio * 1000) / 1000:.3f}".rstrip("0").rstrip(".")


@check("text-contrast", Severity.ERROR)
def text_contrast(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Pale text on a pale sky cannot be read.

    WCAG 2.2, success criterion 1.4.3, asks for a contrast of 4.5; the ratio is never rounded up.
    """
    del limits
    for text in context.texts:
        if text.contrast < CONTRAST_FLOOR:
            yield Remark(
                where=_drawn_where(text),
                what=f"the contrast of {quoted(text.text, 40)} is {_cut(text.contrast)} at its worst — at least "
                f"{CONTRAST_FLOOR} is needed",
                remedy="put a panel under it (panel_opacity in the look), or soften the picture",
                path=_drawn_path(context, text),
                numbers=(("contrast", round(text.contrast, 3)), ("least", CONTRAST_FLOOR)),
            )


@check("text-overflow", Severity.ERROR)
def text_overflow(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A line that does not fit is cut off, or shrunk until nobody reads it."""
    del limits
    for text in context.texts:
        if text.overflow:
            yield Remark(
                where=_drawn_where(text),
                what=f"{quoted(text.text, 40)} with its {counted(len(text.text), 'character')} does not fit its "
                "card — it must fit whole",
                remedy="use fewer or shorter words, or split the card in two",
                path=_drawn_path(context, text),
                numbers=(("characters", len(text.text)),),
            )


@check("glyph-missing", Severity.ERROR)
def glyph_missing(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A character that the font does not have comes out as an empty box, most often in somebody's name."""
    del limits
    for text in context.texts:
        if text.missing:
            lacking = list(dict.fromkeys(text.missing))
            named = ", ".join(f"{c} (U+{ord(c):04X})" for c in lacking[:_NAMED])
            named += f" and {len(lacking) - _NAMED} more" if len(lacking) > _NAMED else ""
            yield Remark(
                where=_drawn_where(text),
                what=f"the font has no glyph for {counted(len(dict.fromkeys(text.missing)), 'character')} of "
                f"{quoted(text.text, 40)}: {named} — each character needs one",
                remedy=_IDEOGRAPHS
                if any(east_asian_width(one) in "WF" for one in lacking)
                else "choose a font in the look that has them, or write it another way",
                path=_drawn_path(context, text),
                numbers=(("missing", len(dict.fromkeys(text.missing))),),
            )


@check("text-outside-safe-area", Severity.WARNING)
def text_outside_safe_area(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Sets and players hide the edges.

    Text stays five per cent away from each (SMPTE ST 2046-1, safe title area 90 per cent; the figure is from memory).
    """
    del limits
    canvas = context.plan.canvas
    safe = canvas.inset(float(SAFE_MARGIN) * canvas.width, float(SAFE_MARGIN) * canvas.height)
    for text in context.texts:
        past = max(
            safe.x - text.area.x, text.area.right - safe.right, safe.y - text.area.y, text.area.bottom - safe.bottom
        )
        if past > 0.5:
            yield Remark(
                where=_drawn_where(text),
                what=f"{quoted(text.text, 40)} reaches {past:.0f} px out of the safe area, whose margin is "
                f"{float(SAFE_MARGIN) * canvas.width:.0f} px at the sides — text stays inside",
                remedy="use fewer words, or a larger margin in the look",
                path=_drawn_path(context, text),
                numbers=(("past_px", round(past, 1)),),
            )


@check("card-overlap", Severity.WARNING)
def card_overlap(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Two texts in one place are none.

    Cards that are seen together make room for one another; this is said where there was none left. On a caution, a
    drill with its safety line or a disclosure it is an error.
    """
    del limits
    spans = {(card.beat, card.kind, card.index): card.span for card in context.plan.cards}
    cards: dict[tuple[str, str, int], TextFacts] = {}
    for text in context.texts:
        key = (text.beat, text.kind, text.index)
        if key in spans and text.covers is not None:
            cards.setdefault(key, text)
    placed = list(cards.items())
    for k, (key, text) in enumerate(placed):
        for other_key, other in placed[:k]:
            if not spans[key].overlap(spans[other_key]) or text.covers is None or other.covers is None:
                continue
            if not text.covers.overlaps(other.covers):
                continue
            names = [one.replace("_", " ") for one in (other.kind, text.kind)]
            deep = min(text.covers.bottom, other.covers.bottom) - max(text.covers.y, other.covers.y)
            yield Remark(
                where=_drawn_where(text),
                what=f"it lies {deep:.0f} px deep over the {names[0]} of beat {other.beat}, no room is beside it — "
                "cards that are seen together stand apart",
                remedy=f"show the {names[1]} before or after the {names[0]} (at, hold), or use fewer words",
                path=_drawn_path(context, text),
                numbers=(("overlap_px", round(deep, 1)),),
                severity=Severity.ERROR if _NEVER_COVERED & {text.kind, other.kind} else None,
            )


_NEVER_COVERED = {"caution", "drill", "disclosure"}
