"""What the checks look at: the text, the plan made from it, and what was measured."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from segmentkit.delivery import Delivery
from segmentkit.facts import Facts, LockFacts, TextFacts
from segmentkit.plan.captions import CaptionSet
from segmentkit.plan.model import Plan, PlannedBeat
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat, Storyboard


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsentContext:
    """What the consent checks need: no clip has been opened yet.

    Attributes:
        loaded: the storyboard with the places of its text.
        deliveries: the profiles that are to be delivered; their scopes must be in each release.
        today: the day on which the releases must hold.
    """

    loaded: LoadedStoryboard
    deliveries: tuple[Delivery, ...]
    today: datetime.date

    @property
    def board(self) -> Storyboard:
        """The storyboard itself."""
        return self.loaded.board


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckContext:
    """What all checks need.

    Attributes:
        loaded: the storyboard with the places of its text.
        plan: what is seen and heard, on frames.
        facts: what was measured of clips and readings.
        deliveries: the profiles that are to be delivered.
        today: the day on which the releases must hold.
        final: whether this is for a final render and not for a look.
        texts: what was measured of drawn texts, if they were drawn.
        captions: the captions by each set of rules that the deliveries need, if they were made.
        lock: what the segment was locked with, if it was.
    """

    loaded: LoadedStoryboard
    plan: Plan
    facts: Facts
    deliveries: tuple[Delivery, ...]
    today: datetime.date
    final: bool
    texts: tuple[TextFacts, ...] = ()
    captions: tuple[CaptionSet, ...] = ()
    lock: LockFacts | None = None

    @property
    def board(self) -> Storyboard:
        """The storyboard itself."""
        return self.loaded.board

    @property
    def consent(self) -> ConsentContext:
        """The part that the consent checks look at."""
        return ConsentContext(loaded=self.loaded, deliveries=self.deliveries, today=self.today)

    def beats(self) -> list[tuple[int, Beat, PlannedBeat]]:
        """Each beat with its index in the storyboard and its place on the frame grid."""
        planned = {beat.id: beat for beat in self.plan.beats}
        return [
            (index, beat, planned[beat.beat]) for index, beat in enumerate(self.board.beats) if beat.beat in planned
        ]

    def index_of(self, beat: str) -> int:
        """Index of a beat in the storyboard."""
        return next(index for index, spec in enumerate(self.board.beats) if spec.beat == beat)
