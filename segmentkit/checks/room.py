"""How much time beats could give or take, worked out from what is written, apart from the fit's own arithmetic."""

from __future__ import annotations

from segmentkit.checks.context import CheckContext
from segmentkit.checks.phrases import CAUTION_DOCTOR, CAUTION_ROUND, CAUTION_STOP
from segmentkit.plan.defaults import HOLDS
from segmentkit.plan.model import Shot
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.shots import ShotSpec
from segmentkit.timebase import nearest_frame, seconds_of

PROTECTED_CARDS = frozenset({"caution", "disclosure", "drill"})


def is_caution(text: str) -> bool:
    """Whether a text warns: when to stop, whom to ask, where to look."""
    return bool(CAUTION_STOP.search(text) or CAUTION_DOCTOR.search(text) or CAUTION_ROUND.search(text))


def is_protected(beat: Beat) -> bool:
    """Whether a beat is never asked for time: it is rigid, or holds a caution, a disclosure or a drill."""
    return (
        beat.rigid
        or any(card.kind in PROTECTED_CARDS for card in beat.cards)
        or any(is_caution(line.text) for line in beat.say)
    )


def shots_of(context: CheckContext, beat: str) -> list[Shot]:
    """The planned shots of a beat, in order."""
    return [shot for shot in context.plan.shots if shot.beat == beat]


def spec_of(board: Storyboard, shot: Shot) -> tuple[int, int, ShotSpec]:
    """Beat index, shot index and specification behind a planned shot."""
    number = int(shot.id.rsplit("/", 1)[1])
    index = next(i for i, beat in enumerate(board.beats) if beat.beat == shot.beat)
    return index, number, board.beats[index].show[number]


def written_room(context: CheckContext, beat: Beat) -> tuple[int, int]:
    """Least and most frames that the shots of a beat allow as written; motion counts as planned."""
    rate = context.plan.rate
    least = most = 0
    for shot, spec in zip(shots_of(context, beat.beat), beat.show, strict=False):
        body = getattr(spec, spec.kind)
        if spec.run is not None or (spec.comparison is not None and body.hold is None and shot.speed is not None):
            least += shot.span.frames
            most += shot.span.frames
            continue
        hold = body.hold or HOLDS[spec.kind]
        least += nearest_frame(hold.least, rate)
        most += nearest_frame(hold.most, rate)
    if beat.length is not None:
        exact = nearest_frame(seconds_of(beat.length, rate), rate)
        return exact, exact
    return least, most
