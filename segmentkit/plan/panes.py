"""The pictures of a shot whose length is known, in their places on the canvas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from segmentkit.facts import Facts
from segmentkit.geometry import Placement, Point, Rect, Size, cover
from segmentkit.plan.defaults import ENTER, PUSH, SWEEP, SWEEP_AT, Grid
from segmentkit.plan.insets import beside_player
from segmentkit.plan.layout import full_frame, kept_beside, snapped, still_placement, windows
from segmentkit.plan.match import Half, comparison_placements, lights, matched
from segmentkit.plan.model import ClipPicture, Entry, Matched, Move, Pane, StillPicture
from segmentkit.plan.moments import Footage
from segmentkit.plan.pane_names import club_is_low, corner, name_room, shared_out
from segmentkit.plan.seen import TRUNK, body_box, body_parts, figure_box, seen_box
from segmentkit.plan.shots import Draft, Problem
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.shots import (
    Comparison,
    EndBoard,
    EnterBy,
    Freeze,
    Ground,
    Inset,
    Match,
    Overlay,
    Push,
    Run,
    Split,
    StillShot,
    ThreeUp,
    Title,
    Wipe,
)

MIRRORED = "mirrored"
SPEEDS_MATCHED = "speeds matched"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What panes are made from: the storyboard, its clips, what was measured, the grid and the canvas."""

    board: Storyboard
    footage: Mapping[str, Footage]
    facts: Facts
    grid: Grid
    problem: Problem
    free: Rect | None = None
    """The part of the picture that pictures fill above a sheet; None for all of it."""
    hidden: float = 0.0
    """How much of the foot of that lies under the sheet's edge, in pixels."""
    aside: Rect | None = None
    """The part of a wide picture that a panel leaves free; None for all of it."""
    head: float = 0.0
    """How much of the head of the picture a name takes, in pixels."""

    @property
    def whole(self) -> Rect:
        """The whole picture, in pixels."""
        size: Size = self.board.segment.size
        return Rect(0, 0, size.width, size.height)

    @property
    def canvas(self) -> Rect:
        """What pictures may fill, in pixels."""
        return self.free or self.whole

    def person(self, clip: str) -> str | None:
        """The name on screen of who is seen in a clip."""
        person = self.board.clips[clip].person
        return self.board.people[person].shown if person and person in self.board.people else None


def panes(draft: Draft, frames: int, stage: Stage) -> tuple[tuple[Pane, ...], Matched | None]:
    """The pictures of a shot of known length in their places, and what is left between matched ones."""
    match getattr(draft.spec, draft.spec.kind):
        case Run() | Freeze() as shot:
            return _wide(draft, shot, frames, stage), None
        case Comparison() as comparison:
            return _compared(draft, comparison, frames, stage)
        case StillShot() as still:
            placement = still_placement(stage.facts.stills[still.still].size, stage.canvas)
            pane = Pane(picture=StillPicture(still=still.still), placement=placement, soften=still.soften)
            return (_pushed(pane, still.push, frames, stage, ("still", "push")),), None
        case Title() | EndBoard() as card:
            return () if card.over is None else (_ground_pane(draft, card.over, frames, stage),), None
        case unknown:
            raise AssertionError(f"no shot of kind {unknown!r}")


def entry(draft: Draft, frames: int, grid: Grid) -> Entry | None:
    """How a shot of known length comes in; None for a cut. At least its last frame is the shot alone."""
    enter = draft.spec.enter
    if enter is None or enter.by is EnterBy.CUT:
        return None
    wanted = min(grid.frames(enter.over, ENTER), frames - 1)
    return Entry(by=enter.by.value, frames=wanted) if wanted > 0 else None


def _wide(draft: Draft, shot: Run | Freeze, frames: int, stage: Stage) -> tuple[Pane, ...]:
    clip = stage.footage[shot.clip]
    seen = _ever_seen(clip, stage)
    placed = full_frame(
        clip, stage.canvas, mirrored=shot.mirror, zoom=shot.zoom, focus=shot.focus, seen=seen,
        body=body_box(clip, (0, clip.last)), hidden=stage.hidden, head=stage.head,
    )  # fmt: skip
    if stage.aside is not None and shot.focus is None and shot.push is None:
        placed = kept_beside(placed, stage.aside, seen, body_box(clip, (0, clip.last)))
    window = None
    if shot.inset is not None:
        player = None if shot.focus is not None or shot.push is not None else figure_box(clip)
        placed, window = beside_player(shot.inset, placed, stage.canvas, player, seen)
    picture = _clip_picture(draft, 0, frames)
    pane = Pane(
        picture=picture,
        placement=placed,
        figure=figure_box(clip, TRUNK),
        body=body_parts(clip, picture.frames),
        name="" if shot.inset is None else "wide",
        soften=isinstance(shot, Freeze) and shot.soften,
        label=stage.person(shot.clip) if shot.mirror else None,
        note=MIRRORED if shot.mirror else None,
    )
    pane = _pushed(pane, shot.push, frames, stage, (draft.kind, "push"))
    if shot.inset is None or window is None:
        return (pane,)
    return pane, _inset(draft, shot.inset, window, frames, stage)


def _pushed(pane: Pane, push: Push | None, frames: int, stage: Stage, path: tuple[str | int, ...]) -> Pane:
    """The pane with its frame on the way to a detail; on arrival the detail is in the middle, if the picture allows."""
    if push is None:
        return pane
    start = stage.grid.frames(push.at)
    way = max(1, stage.grid.frames(push.over, PUSH))
    if start + way > frames:
        stage.problem(
            f"the push takes until frame {start + way} of a shot of {frames} frames — start it earlier, or shorten "
            "over, or hold the shot longer",
            path,
        )
    placed = pane.placement
    where = _push_point(push, pane, stage, path)
    to = snapped(cover(placed.source, placed.window, where, mirrored=placed.mirrored, zoom=push.zoom))
    return replace(pane, move=Move(to=to, start=start, frames=way))


def _push_point(push: Push, pane: Pane, stage: Stage, path: tuple[str | int, ...]) -> Point:
    if not isinstance(push.to, NamedPoint):
        return push.to
    if not isinstance(pane.picture, ClipPicture):
        stage.problem(f"the push names the point {push.to}, but a still has no named points — write [x, y]", path)
        return Point(0.5, 0.5)
    points = stage.board.clips[pane.picture.clip].points
    known = points.get(push.to.position or pane.picture.position or "", {})
    if push.to.name not in known:
        names = ", ".join(f"{where}.{name}" for where, spots in points.items() for name in spots)
        stage.problem(
            f"the push names the point {push.to}, which clip {pane.picture.clip} does not have — its points are: "
            f"{names or 'none'}",
            path,
        )
        return Point(0.5, 0.5)
    return known[push.to.name]


def _inset(draft: Draft, inset: Inset, window: Rect, frames: int, stage: Stage) -> Pane:
    focus = inset.focus or Point(0.5, 0.5)
    label, note = inset.label, MIRRORED if inset.mirror else None
    if inset.still is not None:
        size = stage.facts.stills[inset.still].size
        placement = cover(size, window, focus, mirrored=inset.mirror, zoom=inset.zoom or 1.0)
        return Pane(picture=StillPicture(still=inset.still), placement=placement, name="inset", inset=True,
                    label=label or note, note=note if label else None, label_at=(0.0, 1.0))  # fmt: skip
    assert inset.clip is not None
    clip = stage.footage[inset.clip]
    placement = cover(
        clip.facts.size,
        window,
        inset.focus or clip.spec.focus or Point(0.5, 0.5),
        mirrored=inset.mirror != clip.spec.mirrored,
        zoom=inset.zoom or max(1.0, clip.spec.zoom or 1.0),
    )
    return Pane(picture=_clip_picture(draft, 1, frames), placement=placement, name="inset", inset=True,
                label=label or note, note=note if label else None, label_at=(0.0, 1.0))  # fmt: skip


def _compared(
    draft: Draft, comparison: Comparison, frames: int, stage: Stage
) -> tuple[tuple[Pane, ...], Matched | None]:
    sides = comparison.sides
    pictures = [_clip_picture(draft, index, frames) for index in range(len(sides))]
    halves = [
        Half(
            footage=stage.footage[side.clip],
            mirrored=side.mirror,
            seen=_seen(picture, stage),
            body=body_box(stage.footage[side.clip], picture.frames),
        )
        for (_, side), picture in zip(sides, pictures, strict=True)
    ]
    columns = isinstance(comparison, Split | ThreeUp)
    places = windows(stage.canvas, len(sides)) if columns else (stage.canvas,) * len(sides)
    # All names stand on one side; on that of the club only while it hangs down in every picture.
    low_club = club_is_low(pictures)
    names = [(side.label or stage.person(side.clip)) if comparison.labels else None for _, side in sides]
    shared = shared_out(names, places, stage.canvas) if columns else None
    placed = comparison_placements(halves, places, comparison.match, comparison.zoom)
    tuned = lights([stage.facts.scenes.get(side.clip) for _, side in sides])
    rooms = shared or [
        name_room(place, stage.canvas, placement, half, low_club=low_club) if columns else None
        for place, placement, half in zip(places, placed, halves, strict=True)
    ]
    made = tuple(
        Pane(
            picture=picture,
            placement=placement,
            figure=figure_box(stage.footage[picture.clip], TRUNK),
            body=body_parts(stage.footage[picture.clip], picture.frames),
            name=name,
            light=light if Match.LIGHT in comparison.match else None,
            label=names[index],
            note=_note(side.mirror, bool(draft.events) and side.speed is None),
            label_at=corner(index, places, stage.canvas) if shared is None else (index / (len(places) - 1), 1.0),
            label_room=rooms[index],
        )
        for index, ((name, side), picture, placement, light) in enumerate(
            zip(sides, pictures, placed, tuned, strict=True)
        )
    )
    if isinstance(comparison, Overlay):
        made = (made[0], replace(made[1], opacity=comparison.opacity))
    if isinstance(comparison, Wipe):
        made = _swept(made, comparison, stage)
    left = matched(halves, placed, comparison.match, draft.events, stage.whole) if comparison.match else None
    return made, left


def _note(mirrored: bool, in_step: bool) -> str | None:
    return ", ".join(word for word, said in ((MIRRORED, mirrored), (SPEEDS_MATCHED, in_step)) if said) or None


def _swept(pair: Sequence[Pane], wipe: Wipe, stage: Stage) -> tuple[Pane, ...]:
    """Two pictures in one place: the first gives way from the left as an edge crosses, the second follows it."""
    start = stage.grid.frames(wipe.at, SWEEP_AT)
    way = max(1, stage.grid.frames(wipe.over, SWEEP))
    whole = stage.canvas
    left, right = Rect(whole.x, whole.y, 0, whole.height), Rect(whole.right, whole.y, 0, whole.height)

    def moved(pane: Pane, first: Rect, last: Rect, corner: tuple[float, float]) -> Pane:
        return replace(
            pane,
            placement=replace(pane.placement, window=first),
            label_at=corner,
            move=Move(to=replace(pane.placement, window=last), start=start, frames=way),
        )

    # The names stand where their pictures are seen longest: the second picture comes from the left.
    return moved(pair[0], whole, right, (1.0, 0.0)), moved(pair[1], left, whole, (0.0, 0.0))


def _seen(picture: ClipPicture, stage: Stage) -> Rect | None:
    return seen_box(stage.footage[picture.clip], stage.facts.scenes.get(picture.clip), picture.frames)


def _ever_seen(clip: Footage, stage: Stage) -> Rect | None:
    """The box around player and club over the whole clip; the same for all its shots, so that lines can be kept."""
    scene = stage.facts.scenes.get(clip.id)
    return None if scene is None else seen_box(clip, scene, (0, clip.last))


def _ground_pane(draft: Draft, over: Ground, frames: int, stage: Stage) -> Pane:
    if over.clip is not None:
        ground = stage.footage[over.clip]
        whole = max(1.0, ground.spec.zoom or 1.0)  # a card's ground fills the picture
        placement: Placement = full_frame(ground, stage.canvas, mirrored=False, zoom=whole, focus=None)
        return Pane(picture=_clip_picture(draft, 0, frames), placement=placement, soften=over.soften)
    assert over.still is not None
    placement = still_placement(stage.facts.stills[over.still].size, stage.canvas)
    return Pane(picture=StillPicture(still=over.still), placement=placement, soften=over.soften)


def _clip_picture(draft: Draft, pane: int, frames: int) -> ClipPicture:
    clip = draft.clips[pane]
    assert clip is not None
    if pane in draft.frozen:
        shown: tuple[int, ...] = (draft.frozen[pane],) * frames
    else:
        moving = draft.moving[pane][:frames]
        shown = moving + (moving[-1],) * (frames - len(moving))
    return ClipPicture(clip=clip, frames=shown, position=draft.positions[pane])
