"""The frozen pictures of a segment, and on which frame each shows the most of what is drawn on it."""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import ClipPicture, Plan, Shot, Stroke
from segmentkit.timebase import label_of_frame


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenPicture:
    """A freeze or a comparison of freezes.

    Attributes:
        shot: the shot.
        frame: of the segment, on which all its strokes stand complete, or as many as ever do at once.
        time: label of the shot's first frame.
        positions: name of the position in each pane, empty where it has none.
        strokes: those that are seen on that frame.
        clips: id of the clip in each pane.
    """

    shot: Shot
    frame: int
    time: str
    positions: tuple[str, ...]
    strokes: tuple[Stroke, ...]
    clips: tuple[str, ...]

    @property
    def name(self) -> str:
        """What a person calls it: the beat and the positions shown."""
        shown = " and ".join(dict.fromkeys(position.replace("_", " ") for position in self.positions if position))
        beat = self.shot.beat.replace("_", " ")
        return beat if not shown or shown == beat else f"{beat}: {shown}"

    @property
    def softened(self) -> bool:
        """Whether it is only the ground of a card."""
        return any(pane.soften for pane in self.shot.panes)


def frozen_pictures(plan: Plan) -> tuple[FrozenPicture, ...]:
    """All freezes in the order in which they are seen."""
    found = []
    for shot in plan.shots:
        pictures = [pane.picture for pane in shot.panes]
        clips = [picture for picture in pictures if isinstance(picture, ClipPicture)]
        if not clips or len(clips) < len(pictures) or not all(picture.frozen for picture in clips):
            continue
        frame, strokes = _fullest(plan, shot)
        found.append(
            FrozenPicture(
                shot=shot,
                frame=frame,
                time=str(label_of_frame(shot.span.start, plan.rate)),
                positions=tuple(picture.position or "" for picture in clips),
                strokes=strokes,
                clips=tuple(picture.clip for picture in clips),
            )
        )
    return tuple(found)


def _fullest(plan: Plan, shot: Shot) -> tuple[int, tuple[Stroke, ...]]:
    """The last of the frames on which most strokes stand complete, and most cards after them."""
    strokes = [stroke for stroke in plan.strokes if stroke.shot == shot.id]
    drawn = [
        range(max(one.span.start, one.draw_start + one.draw_frames), one.span.end - one.wipe_frames) for one in strokes
    ]
    cards = [
        range(card.span.start + card.enter_frames, card.span.end - card.leave_frames)
        for card in plan.cards
        if card.kind != GUIDE_MARK and card.span.overlap(shot.span)
    ]
    # Only where one of them goes can the number fall, so only the frames before those need a look.
    ends = {min(shot.span.end, whole.stop) - 1 for whole in (*drawn, *cards) if len(whole)} | {shot.span.end - 1}
    frame = max(
        (frame for frame in ends if frame in shot.span),
        key=lambda frame: (sum(frame in whole for whole in drawn), sum(frame in whole for whole in cards), frame),
    )
    return frame, tuple(stroke for stroke in strokes if frame in stroke.span)
