"""What stands on a viewer's take-home sheet: chosen from the segment, so that nothing is written twice.

Nobody but the viewer is named: the demonstrator is "our demonstrator", and pictures come without cards and names.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from segmentkit.deliver.frozen import FrozenPicture, frozen_pictures
from segmentkit.errors import SegmentkitError
from segmentkit.geometry import Placement, Rect
from segmentkit.plan.model import Plan, Stroke
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Clip, View
from segmentkit.storyboard.sheet import Sheet

CAUTION = "General advice only. Warm up first. Stop if anything hurts."
DOCTOR = "If you have pain or an old injury, see a doctor or physiotherapist before trying this."
FOOTER = "This sheet is about one filmed swing. It is not a medical or fitness assessment."
DEMONSTRATOR = "Our demonstrator"
_STAND = {
    View.DOWN_THE_LINE: "behind your hands, in line with the target, as high as your hands",
    View.FACE_ON: "opposite the middle of your body, as high as your hands",
}
# No locale: the sheet must not change with the machine that prints it.
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December")  # fmt: skip
_ASPECT = 0.86
"""Width of a picture against its height: a player and a club, without the field around them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPicture:
    """A picture of the sheet.

    Attributes:
        frozen: the freeze it is taken from.
        window: the canvas rectangle of it that is shown, in pixels.
        title: what stands under it.
        strokes: what is drawn on it, by role.
    """

    frozen: FrozenPicture
    window: Rect
    title: str
    strokes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeHome:
    """All that stands on the sheet.

    Attributes:
        above: programme and item.
        name: the viewer's, as shown; of a minor the first name alone.
        title: the segment's.
        pictures: the viewer's own first.
        drill: name, count, how it goes, equipment; what is not known is left out.
        safety: the drill's safety lines.
        cautions: of the whole sheet.
        film: how to film the follow-up; `again` the day from which to do it.
    """

    above: str
    name: str
    title: str
    language: str
    pictures: tuple[SheetPicture, ...]
    what: str
    why: str
    feel: str
    drill_name: str
    drill_count: str
    drill_how: str
    equipment: str
    safety: tuple[str, ...]
    cautions: tuple[str, ...]
    film: str
    again: str


def take_home(plan: Plan, board: Storyboard, today: datetime.date) -> TakeHome:
    """Puts a sheet together.

    Args:
        plan: for the pictures and the drill's card.
        board: for the sheet's words.
        today: the day on which the sheet is made; the follow-up is counted from it.

    Raises:
        SegmentkitError: when the storyboard has no words for a sheet, or no picture of the viewer.
    """
    sheet = board.sheet
    if sheet is None:
        raise SegmentkitError(
            "sheet — the storyboard has no words for a take-home sheet — write `sheet:` with person, what, why and "
            "feel (see `segmentkit keys`)"
        )
    person = board.people[sheet.person]
    segment = board.segment
    drill = next((dict(card.fields) for card in plan.cards if card.kind == "drill"), {})
    safety = tuple(drill[key] for key in ("safety", "line") if key in drill)
    return TakeHome(
        above=" · ".join(text for text in (segment.programme, segment.item) if text),
        name=person.shown.split()[0] if person.adult is False else person.shown,
        title=plan.title,
        language=segment.language,
        pictures=_pictures(plan, board, sheet),
        what=sheet.what,
        why=sheet.why,
        feel=sheet.feel,
        drill_name=drill.get("name", ""),
        drill_count=drill.get("count", ""),
        drill_how=sheet.drill or "",
        equipment=drill.get("equipment", ""),
        safety=safety,
        cautions=(CAUTION, DOCTOR),
        film=sheet.film or _how_to_film(_own_clip(board, sheet)),
        again=_day(today + datetime.timedelta(days=round(sheet.again))),
    )


def _own_clip(board: Storyboard, sheet: Sheet) -> Clip | None:
    return next((clip for clip in board.clips.values() if clip.person == sheet.person), None)


def _how_to_film(clip: Clip | None) -> str:
    """What makes a second clip comparable with the first; common practice, no source."""
    stand = _STAND.get(clip.view) if clip is not None else None
    where = f" {stand}," if stand else ""
    return (
        f"Stand the phone where it stood this time:{where} upright on something steady, your whole body and the club "
        "in the picture. Same club. Sixty frames a second or more, two or three swings."
    )


def _day(day: datetime.date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _pictures(plan: Plan, board: Storyboard, sheet: Sheet) -> tuple[SheetPicture, ...]:
    frozen = [one for one in frozen_pictures(plan) if not one.softened]
    if sheet.pictures:
        chosen = [next((one for one in reversed(frozen) if one.shot.beat == beat), None) for beat in sheet.pictures]
        shown = [one for one in chosen if one is not None]
        missing = [beat for beat, one in zip(sheet.pictures, chosen, strict=True) if one is None]
        if missing:
            raise SegmentkitError(
                f"sheet, pictures — beat {missing[0]} has no frozen picture — name a beat with a freeze or a split"
            )
    else:
        shown = _usual(frozen, board, sheet)
    panes = [(one, _pane(one, board, sheet)) for one in shown]
    made = []
    for one, pane in panes:
        own = board.clips[one.clips[pane]].person == sheet.person
        position = one.positions[pane].replace("_", " ")
        strokes = [stroke for stroke in one.strokes if stroke.pane == pane]
        made.append(
            SheetPicture(
                frozen=one,
                window=_window(one.shot.resting(pane), board.clips[one.clips[pane]], strokes),
                title=f"{'You' if own else DEMONSTRATOR}{f' at {position}' if position else ''}",
                strokes=tuple(dict.fromkeys(stroke.role for stroke in strokes)),
            )
        )
    if not any(board.clips[one.clips[pane]].person == sheet.person for one, pane in panes):
        raise SegmentkitError(
            f"sheet — no frozen picture shows {sheet.person} — name beats that do, under `pictures:` of the sheet"
        )
    return tuple(made)


def _window(placement: Placement, clip: Clip, strokes: Sequence[Stroke]) -> Rect:
    """The part of a pane around the player; its whole height, and as much of its width as player and ball need."""
    window = placement.window
    width = min(window.width, _ASPECT * window.height)
    drawn = [placement.to_canvas(point).x for stroke in strokes for point in stroke.points]
    if clip.focus is not None:
        middle = placement.to_canvas(clip.focus).x
    else:
        middle = (min(drawn) + max(drawn)) / 2 if drawn else window.centre.x
    left = min(max(window.x, middle - width / 2), window.right - width)
    return Rect(left, window.y, width, window.height)


def _pane(one: FrozenPicture, board: Storyboard, sheet: Sheet) -> int:
    """The pane that is shown: the viewer's, else the first of somebody else."""
    own = (k for k, clip in enumerate(one.clips) if board.clips[clip].person == sheet.person)
    return next(own, 0)


def _usual(frozen: Sequence[FrozenPicture], board: Storyboard, sheet: Sheet) -> list[FrozenPicture]:
    """Two of the viewer's and one of the demonstrator's: full pictures, most telling strokes first."""

    def worth(one: FrozenPicture) -> tuple[int, int, int]:
        faults = sum(stroke.role == "fault" for stroke in one.strokes)
        return (len(one.clips) == 1, faults, len(one.strokes))

    own = [one for one in frozen if board.clips[one.clips[_pane(one, board, sheet)]].person == sheet.person]
    full = [one for one in own if len(one.clips) == 1 and one.strokes] or own
    fault = max(full, key=worth, default=None)
    before = [one for one in full if fault is not None and one.frame < fault.frame]
    first = before[0] if before else next((one for one in full if one is not fault), None)
    others = [one for one in frozen if one not in own and any(stroke.role == "good" for stroke in one.strokes)]
    model = max(others or [one for one in frozen if one not in own], key=worth, default=None)
    return [one for one in (first, fault, model) if one is not None]
