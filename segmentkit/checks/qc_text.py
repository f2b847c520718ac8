"""Texts of a finished file: inside the safe area, large and clear enough, and really there.

Areas, sizes and contrast are those of the layout, which knows every letter; the pictures are then looked at where a
text should stand, which proves that it is there but cannot tell its letters from a busy ground.
"""

from __future__ import annotations

from segmentkit.checks.drawn import CAP_HEIGHT_FLOOR, CONTRAST_FLOOR, SAFE_MARGIN
from segmentkit.checks.limits import Limits
from segmentkit.checks.qc_check import Answer, Mark, marked, not_checked, qc_check
from segmentkit.checks.qc_wanted import Wanted, card_of, file_span
from segmentkit.checks.say import counted, number, quoted
from segmentkit.facts import TextFacts
from segmentkit.findings import Severity
from segmentkit.geometry import Rect
from segmentkit.plan.model import Plan
from segmentkit.screened import Look, Screened
from segmentkit.timebase import Span

ACTION_MARGIN = 0.035
SEEN_LEAST = 3.0
_NO_TEXTS = "nobody said which texts are drawn"


def looks_for(plan: Plan, texts: tuple[TextFacts, ...], programme_start: int, pace: float = 1.0) -> tuple[Look, ...]:
    """Where and when to look for each text of a card, in frames of the file.

    Args:
        plan: what was rendered.
        texts: as drawn.
        programme_start: the file's frame on which the programme begins.
        pace: frames of the file for each frame of the plan.
    """
    made = []
    for number_, text in enumerate(texts):
        card = card_of(plan, text)
        if card is None:
            continue
        start, end = card.span.start + card.enter_frames, card.span.end - card.leave_frames
        frame = programme_start + int((start + max(start, end)) / 2 * pace)
        made.append(Look(name=str(number_), frame=frame, area=_share(text, plan)))
    return tuple(made)


def _share(text: TextFacts, plan: Plan) -> Rect:
    """Its ink in fractions of the picture."""
    width, height = plan.size.width, plan.size.height
    area = text.area
    return Rect(area.x / width, area.y / height, area.width / width, area.height / height)


def _span(text: TextFacts, measured: Screened, plan: Plan) -> Span | None:
    card = card_of(plan, text)
    if card is not None:
        return file_span(measured, plan, card.span)
    beat = next((one for one in plan.beats if one.id == text.beat), None)
    return None if beat is None else file_span(measured, plan, beat.span)


@qc_check(
    "qc-safe-area", "Safe area",
    limit="texts at least 5 % from each edge; past 3.5 % is an error",
    source="EBU R 95 and SMPTE ST 2046-1: graphics safe 5 %, action safe 3.5 % (the figures are from memory)",
)  # fmt: skip
def safe_area(measured: Screened, wanted: Wanted) -> Answer:
    """Sets, players and other people's captions hide the edges. Judged by the layout, not by pixels."""
    plan, texts = wanted.plan, wanted.texts
    if plan is None or texts is None:
        return not_checked(_NO_TEXTS)
    marks = []
    for text in texts:
        area = _share(text, plan)
        margin = min(area.x, area.y, 1 - area.right, 1 - area.bottom)
        if margin < float(SAFE_MARGIN) - 0.0005:
            marks.append(
                Mark(
                    what=f"{quoted(text.text, 40)} comes within {100 * max(margin, 0):.1f} % of an edge — "
                    f"{float(100 * SAFE_MARGIN):g} % is kept free",
                    remedy="use fewer words, or a larger margin in the look",
                    span=_span(text, measured, plan),
                    area=area,
                    severity=Severity.ERROR if margin < ACTION_MARGIN - 0.0005 else Severity.WARNING,
                    numbers=(("margin_percent", round(100 * margin, 2)),),
                )
            )
    return marked(f"{counted(len(texts), 'text')}, {counted(len(marks), 'text') if marks else 'none'} outside", marks)


@qc_check(
    "qc-text-size", "Size of texts",
    limit="capitals of 45 px at a height of 1080, 37.5 px for what is read second; below 30 px is an error",
    source="tiresias.org: 24 and 20 lines of 576; BCAP guidance note 1: 16 lines",
)  # fmt: skip
def size(measured: Screened, wanted: Wanted) -> Answer:
    """People watch from across the room. Judged by the layout, not by pixels."""
    plan, texts = wanted.plan, wanted.texts
    if plan is None or texts is None:
        return not_checked(_NO_TEXTS)
    limits, scale = Limits(), min(plan.size.width, plan.size.height) / 1080
    marks = []
    for text in texts:
        height, least = text.cap_height / scale, limits.cap_height_second if text.secondary else limits.cap_height
        if height < least:
            marks.append(
                Mark(
                    what=f"the capitals of {quoted(text.text, 40)} are {height:.0f} px high at a height of 1080 — "
                    f"{number(least)} px is wanted, {CAP_HEIGHT_FLOOR:.0f} px the least",
                    remedy="use fewer words, or a larger size in the look",
                    span=_span(text, measured, plan),
                    area=_share(text, plan),
                    severity=Severity.ERROR if height < CAP_HEIGHT_FLOOR else Severity.WARNING,
                    numbers=(("cap_height_1080", round(height, 1)),),
                )
            )
    smallest = min((text.cap_height / scale for text in texts), default=0.0)
    return marked(f"{smallest:.0f} px the smallest" if texts else "no texts", marks)


@qc_check(
    "qc-contrast", "Contrast of texts",
    limit="4.5 to 1 against what is under it",
    source="WCAG 2.2, success criterion 1.4.3",
)  # fmt: skip
def contrast(measured: Screened, wanted: Wanted) -> Answer:
    """Pale text on a pale sky cannot be read. Judged by the layout, with the worst ground that was drawn."""
    plan, texts = wanted.plan, wanted.texts
    if plan is None or texts is None:
        return not_checked(_NO_TEXTS)
    marks = [
        Mark(
            what=f"the contrast of {quoted(text.text, 40)} is {int(text.contrast * 100) / 100:g} at its worst — at "
            f"least {CONTRAST_FLOOR} is needed",
            remedy="put a panel under it (panel_opacity in the look), or soften the picture",
            span=_span(text, measured, plan),
            area=_share(text, plan),
            numbers=(("contrast", round(text.contrast, 2)),),
        )
        for text in texts
        if text.contrast < CONTRAST_FLOOR
    ]
    worst = min((text.contrast for text in texts), default=21.0)
    return marked(f"{int(worst * 10) / 10:g} to 1 at the worst" if texts else "no texts", marks)


@qc_check(
    "qc-text-seen", "Texts in the picture",
    limit="in the area of each card's text, the lightest and darkest twentieth of the pixels are 3 to 1 apart or more",
    source="the plan; 3 to 1 is WCAG 2.2, success criterion 1.4.3, for large text",
)  # fmt: skip
def seen(measured: Screened, wanted: Wanted) -> Answer:
    """A text that was planned and does not show in the file is missing, whatever the layout says.

    Measured in the pixels of the decoded picture, in the middle of the time each card stands. Names of panes and labels
    of strokes are not looked for.
    """
    plan, texts = wanted.plan, wanted.texts
    if plan is None or texts is None:
        return not_checked(_NO_TEXTS)
    looked = [one for one in measured.pictures.looked if int(one.look.name) < len(texts)]
    if not looked:
        return not_checked("no card with text is planned" if not any(card_of(plan, text) for text in texts)
                           else "the file ends before any card")  # fmt: skip
    marks = []
    for one in looked:
        text = texts[int(one.look.name)]
        if one.contrast < SEEN_LEAST:
            marks.append(
                Mark(
                    what=f"where {quoted(text.text, 40)} should stand, light and dark are {one.contrast:.1f} to 1 "
                    "apart — 3 to 1 shows that something is written there",
                    remedy="look at the picture; if the text is missing, render again",
                    span=Span(one.look.frame, one.look.frame + 1),
                    area=one.look.area,
                    numbers=(("contrast", round(one.contrast, 2)),),
                )
            )
    return marked(f"{len(looked) - len(marks)} of {counted(len(looked), 'text')} of cards seen", marks)
