"""Comparisons: like beside like, mirrored pictures said to be mirrored, and nothing enlarged beyond what it holds."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import spec_of
from segmentkit.checks.say import counted, number
from segmentkit.findings import Severity
from segmentkit.plan.model import ClipPicture, Shot
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Person, View
from segmentkit.storyboard.shots import Comparison, Side

_MOST_ENLARGED = 1.6


def comparisons(board: Storyboard) -> Iterator[tuple[str, tuple[Step, ...], Comparison]]:
    """Each comparison of a storyboard: what a person calls the spot, the path of its mapping, the comparison."""
    for index, beat in enumerate(board.beats):
        for place, spec in enumerate(beat.show):
            if spec.comparison is not None:
                path = ("beats", index, "show", place, spec.kind)
                yield f"beat {beat.beat}, shot {place + 1}", path, spec.comparison


def _person(board: Storyboard, side: Side) -> Person | None:
    clip = board.clips.get(side.clip)
    return board.people.get(clip.person) if clip is not None and clip.person is not None else None


@check("split-unlike", Severity.ERROR)
def split_unlike(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A comparison of unlike pictures proves nothing.

    Another view, another hand or another club changes how a sound swing looks.

    Different views and hands that face one another are errors; different clubs are a warning. What is not stated is
    not compared.
    """
    del limits
    board = context.board
    for where, path, comparison in comparisons(board):
        (first_name, first), *others = comparison.sides
        for name, other in others:
            names = (first_name, name)
            yield from _unlike_views(board, (first, other), names, where, path)
            people = (_person(board, first), _person(board, other))
            if people[0] is not None and people[1] is not None:
                yield from _unlike_people((people[0], people[1]), (first, other), names, where, path)


Pair = tuple[str, str]


def _unlike_views(
    board: Storyboard, sides: tuple[Side, Side], names: Pair, where: str, path: tuple[Step, ...]
) -> Iterator[Remark]:
    views = [board.clips[side.clip].view for side in sides if side.clip in board.clips]
    if len(set(views)) > 1 and View.OTHER not in views:
        yield Remark(
            where=where,
            what=f"its sides show 2 views, {views[0].value} and {views[1].value} — both must be the same",
            remedy="choose two clips of one view",
            path=path,
            numbers=((names[0], views[0].value), (names[1], views[1].value)),
        )


def _unlike_people(
    people: tuple[Person, Person], sides: tuple[Side, Side], names: Pair, where: str, path: tuple[Step, ...]
) -> Iterator[Remark]:
    left, right = sides
    hands = (people[0].handed, people[1].handed)
    if hands[0] is not None and hands[1] is not None and (hands[0] is hands[1]) == (left.mirror != right.mirror):
        same = hands[0] is hands[1]
        yield Remark(
            where=where,
            what=(
                f"both play {hands[0].value}-handed, but 1 side is mirrored"
                if same
                else f"one plays {hands[0].value}-handed, the other {hands[1].value}-handed, and "
                f"{'both sides are' if left.mirror else '0 sides are'} mirrored"
            )
            + " — both must face the same way",
            remedy="take mirror out" if same else "write mirror: yes on the demonstrator's side, never on the viewer's",
            path=path,
            numbers=((names[0], hands[0].value), (names[1], hands[1].value)),
        )
    clubs = (people[0].club, people[1].club)
    if clubs[0] and clubs[1] and clubs[0].casefold() != clubs[1].casefold():
        yield Remark(
            where=where,
            what=f"its sides show 2 clubs, {clubs[0]} and {clubs[1]} — posture and plane differ with the club",
            remedy="choose two clips with one club, or say in the words that the clubs differ",
            path=path,
            numbers=((names[0], clubs[0]), (names[1], clubs[1])),
            severity=Severity.WARNING,
        )


@check("model-mirrored-label", Severity.ERROR)
def model_mirrored_label(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A mirrored picture is not what was filmed, so it says so, on screen, for as long as it is shown."""
    del limits
    for shot in context.plan.shots:
        index, place, spec = spec_of(context.board, shot)
        comparison, wide = spec.comparison, spec.run or spec.freeze
        if comparison is not None:
            mirrored: tuple[bool, ...] = tuple(side.mirror for _, side in comparison.sides)
        elif wide is not None:
            mirrored = (wide.mirror, *((wide.inset.mirror,) if wide.inset is not None else ()))
        else:
            continue
        unsaid = [
            pane for pane, flipped in zip(shot.panes, mirrored, strict=False)
            if flipped and "mirrored" not in f"{pane.label or ''} {pane.note or ''}".lower()
        ]  # fmt: skip
        labels_off = comparison is not None and any(mirrored) and not comparison.labels
        if unsaid or labels_off:
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"{counted(max(1, len(unsaid)), 'picture is', 'pictures are')} mirrored without saying so — "
                "each must carry the word",
                remedy="write labels: yes on the comparison" if labels_off else "let its label say mirrored",
                path=("beats", index, "show", place, spec.kind),
                numbers=(("unsaid", max(1, len(unsaid))),),
            )


@check("picture-enlarged", Severity.WARNING)
def picture_enlarged(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Enlarging shows no more than was filmed.

    Past 1.6 times the clip looks soft beside the rest; common practice, no source.
    """
    del limits
    worst: dict[str, tuple[float, str, Shot]] = {}
    for shot in context.plan.shots:
        for pane in shot.panes:
            scale = max(pane.placement.scale, pane.move.to.scale if pane.move is not None else 0.0)
            if not isinstance(pane.picture, ClipPicture) or pane.soften or scale <= _MOST_ENLARGED:
                continue
            clip = pane.picture.clip
            if clip not in worst or scale > worst[clip][0]:
                worst[clip] = (scale, str(pane.placement.source), shot)
    for clip, (scale, size, shot) in worst.items():
        index, place, spec = spec_of(context.board, shot)
        yield Remark(
            where=f"beat {shot.beat}, shot {place + 1}",
            what=f"clip {clip} ({size}) is enlarged {number(scale)} times — up to {number(_MOST_ENLARGED)} stays sharp",
            remedy="zoom less, or use a clip with more pixels",
            path=("beats", index, "show", place, spec.kind),
            numbers=(("scale", round(scale, 3)), ("most", _MOST_ENLARGED)),
        )
