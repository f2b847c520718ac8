"""An item made ready: its storyboard read, its viewer known, consent asked, what it is made from named."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from segmentkit.checks.uses import pictures_used
from segmentkit.errors import SegmentkitError
from segmentkit.intake.consent import shown_name
from segmentkit.season.sent import Sent
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.season import Item


class CannotStart(SegmentkitError):
    """Nothing was begun: the season, its table, the disk or the workers do not allow it."""

    exit_code = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Why something is not made: a stable kebab-case name, and what is, what is allowed, what to do.

    Attributes:
        id: the name.
        what: the text; no path of this machine and no contact is in it.
        passing: whether another try may go better.
        consent: whether it is for want of consent or of a licence; then what was made before is taken away.
    """

    id: str
    what: str
    passing: bool = False
    consent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An item of a season, ready or refused.

    Attributes:
        item: as written.
        path: its storyboard; None where there is none.
        loaded: the storyboard, read; withdrawals entered.
        sent: the submission.
        profiles: what may be delivered.
        held: profiles that may not, with the reason.
        refused: why nothing of it is made; None when it may be.
        contents: SHA-256 of each file that it is made from, by path.
        key: hash of all that it is made from; empty when refused.
        notes: what a producer should know.
    """

    item: Item
    path: Path | None = None
    loaded: LoadedStoryboard | None = None
    sent: Sent | None = None
    profiles: tuple[str, ...] = ()
    held: tuple[tuple[str, Why], ...] = ()
    refused: Why | None = None
    contents: dict[Path, str] = field(default_factory=dict)
    key: str = ""
    notes: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The item's id."""
        return self.item.id

    @property
    def person(self) -> str | None:
        """The viewer among the storyboard's people: who the record says, a lower third names, or is seen alone."""
        if self.loaded is None:
            return None
        people = self.loaded.board.people
        if self.sent is not None and self.sent.person_id in people:
            return self.sent.person_id
        for beat in self.loaded.board.beats:
            for card in beat.cards:
                if card.lower_third is not None and card.lower_third.person in people:
                    return card.lower_third.person
        clips, _ = pictures_used(self.loaded.board)
        seen = {self.loaded.board.clips[clip].person for clip in clips}
        return next(iter(seen)) if len(seen) == 1 else None

    @property
    def viewer(self) -> str | None:
        """What tells the viewer from others of the season: the name as shown and the place, folded."""
        if self.sent is not None:
            who = self.sent.person
        elif self.loaded is not None and self.person is not None:
            who = self.loaded.board.people[self.person]
        else:
            return None
        return f"{who.shown}, {who.place or ''}".casefold()

    @property
    def shown(self) -> str:
        """The viewer's name as it may be written; empty where nobody is named."""
        if self.sent is not None:
            return shown_name(self.sent.person)
        person = self.person
        return shown_name(self.loaded.board.people[person]) if self.loaded is not None and person else ""
