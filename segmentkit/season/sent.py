"""The viewer's side of an item: which submission of which record it is, and who is seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.season import Item
from segmentkit.storyboard.submission import LoadedBatch, Submission, load_batch


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One submission of an intake record.

    Attributes:
        record: the record that holds it.
        name: its id there.
        submission: what came.
        person: who sent it or is seen; `person_id` by name among people.
    """

    record: LoadedBatch
    name: str
    submission: Submission
    person_id: str
    person: Person

    @property
    def folder(self) -> Path:
        """Where its paths start."""
        return self.record.folder

    def files(self) -> Iterator[tuple[str, Path]]:
        """Each part with its file."""
        for part, value in self.submission.parts:
            yield part, self.folder / value.file


class Records:
    """Intake records of a season, each read once."""

    def __init__(self) -> None:
        self._read: dict[Path, LoadedBatch] = {}

    def sent(self, item: Item, folder: Path) -> Sent | None:
        """The submission that an item names; None where it names none.

        Raises:
            StoryboardUnreadable: when the record has faults, or does not hold it.
        """
        if item.submission is None:
            return None
        path, _, name = item.submission.partition("#")
        place = (folder / path).resolve()
        if place not in self._read:
            self._read[place] = load_batch(folder / path)
        record = self._read[place]
        held = record.batch.submissions
        if not name:
            name = item.id if item.id in held else next(iter(held)) if len(held) == 1 else ""
        if name not in held:
            wanted = (
                f"`{name}` is not in this record" if name else f"holds {len(held)} submissions, none called {item.id}"
            )
            raise StoryboardUnreadable(
                f"{record.file} — {wanted} — {suggestion(name or item.id, list(held), 'submission')}"
                f" — write submission: {path}#name in item {item.id}"
            )
        submission = held[name]
        return Sent(
            record=record, name=name, submission=submission, person_id=submission.person,
            person=record.batch.people[submission.person],
        )  # fmt: skip
