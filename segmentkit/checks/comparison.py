"""Comparisons: like beside like, mirrored pictures said to be mirrored, and nothing enlarged beyond what it holds."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import spec_of
from segmentkit.checks.say import counted, listed, number
from segmentkit.findings import Severity
from segmentkit.plan.match import MATCHED_AT
from segmentkit.plan.model import ClipPicture, Shot
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Person, View
from segmentkit.storyboard.shots import Side, Split

_MOST_ENLARGED = 1.6


def _splits(board: Storyboard) -> Iterator[tuple[str, tuple[Step, ...], Split]]:
    for index, beat in enumerate(board.beats):
        for place, spec in enumerate(beat.show):
            if spec.split is not None:
                yield f"beat {beat.beat}, shot {place + 1}", ("beats", index, "show", place, "split"), spec.split


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
    for where, path, split in _splits(board):
        left, right = split.left, split.right
        views = [board.clips[side.clip].view for side in (left, right) if side.clip in board.clips]
        if len(set(views)) > 1 and View.OTHER not in views:
            yield Remark(
                where=where,
                what=f"its sides show 2 views, {views[0].value} and {views[1].value} — both must be the same",
                remedy="choose two clips of one view",
                path=path,
                numbers=(("left", views[0].value), ("right", views[1].value)),
            )
        people = (_person(board, left), _person(board, right))
        if people[0] is None or people[1] is None:
            continue
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
                remedy="take mirror out"
                if same
                else "write mirror: yes on the demonstrator's side, never on the viewer's",
                path=path,
                numbers=(("left", hands[0].value), ("right", hands[1].value)),
            )
        clubs = (people[0].club, people[1].club)
        if clubs[0] and clubs[1] and clubs[0].casefold() != clubs[1].casefold():
            yield Remark(
                where=where,
                what=f"its sides show 2 clubs, {clubs[0]} and {clubs[1]} — posture and plane differ with the club",
                remedy="choose two clips with one club, or say in the words that the clubs differ",
                path=path,
                numbers=(("left", clubs[0]), ("right", clubs[1])),
                severity=Severity.WARNING,
            )


@check("model-mirrored-label", Severity.ERROR)
def model_mirrored_label(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A mirrored picture is not what was filmed, so it says so, on screen, for as long as it is shown."""
    del limits
    for shot in context.plan.shots:
        index, place, spec = spec_of(context.board, shot)
        match spec.kind:
            case "split" if spec.split is not None:
                mirrored: tuple[bool, ...] = (spec.split.left.mirror, spec.split.right.mirror)
            case "run" if spec.run is not None:
                mirrored = (spec.run.mirror,)
            case "freeze" if spec.freeze is not None:
                mirrored = (spec.freeze.mirror,)
            case _:
                continue
        unsaid = [
            pane for pane, flipped in zip(shot.panes, mirrored, strict=False)
            if flipped and "mirrored" not in f"{pane.label or ''} {pane.note or ''}".lower()
        ]  # fmt: skip
        labels_off = spec.split is not None and any(mirrored) and not spec.split.labels
        if unsaid or labels_off:
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"{counted(max(1, len(unsaid)), 'picture is', 'pictures are')} mirrored without saying so — "
                "each must carry the word",
                remedy="write labels: yes on the split" if labels_off else "let its label say mirrored",
                path=("beats", index, "show", place, spec.kind),
                numbers=(("unsaid", max(1, len(unsaid))),),
            )


@check("match-without-points", Severity.WARNING)
def match_without_points(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Ground and scale are matched by named points at address.

    Without them the split screen shows two zooms side by side, and a line seems to improve because the picture is
    smaller.
    """
    del limits
    board = context.board
    for where, path, split in _splits(board):
        needed = {"ground": ("heel",), "belt": ("heel", "belt")}
        for side, name in ((split.left, "left"), (split.right, "right")):
            clip = board.clips.get(side.clip)
            known = clip.points.get(MATCHED_AT, {}) if clip is not None else {}
            missing = list(dict.fromkeys(p for m in split.match for p in needed[m.value] if p not in known))
            if missing:
                yield Remark(
                    where=f"{where}, {name}",
                    what=f"clip {side.clip} has {counted(len(known), 'point')} at {MATCHED_AT}, without "
                    f"{listed(missing)} — matching needs them on both sides, so it is left out",
                    remedy=f"write {MATCHED_AT}: {{{', '.join(f'{p}: [x, y]' for p in missing)}}} under points of "
                    f"{side.clip}, or take match out",
                    path=(*path, "match"),
                    numbers=(("missing", len(missing)),),
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
            if not isinstance(pane.picture, ClipPicture) or pane.soften or pane.placement.scale <= _MOST_ENLARGED:
                continue
            clip = pane.picture.clip
            if clip not in worst or pane.placement.scale > worst[clip][0]:
                worst[clip] = (pane.placement.scale, str(pane.placement.source), shot)
    for clip, (scale, size, shot) in worst.items():
        index, place, spec = spec_of(context.board, shot)
        yield Remark(
            where=f"beat {shot.beat}, shot {place + 1}",
            what=f"clip {clip} ({size}) is enlarged {number(scale)} times — up to {number(_MOST_ENLARGED)} stays sharp",
            remedy="zoom less, or use a clip with more pixels",
            path=("beats", index, "show", place, spec.kind),
            numbers=(("scale", round(scale, 3)), ("most", _MOST_ENLARGED)),
        )
