"""Every submission below a season's folder, whether an item uses it or not."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from segmentkit.season.sent import Sent
from segmentkit.storyboard.submission import BATCH, LoadedBatch, load_batch


def batches(folder: Path) -> tuple[LoadedBatch, ...]:
    """The intake records below a folder; links are not followed.

    Raises:
        StoryboardUnreadable: when one has faults.
    """
    found = sorted(path for path in folder.rglob(BATCH) if path.is_file() and not path.is_symlink())
    return tuple(load_batch(path) for path in found)


def everyone(folder: Path) -> Iterator[Sent]:
    """All that came, in the order of the records.

    Raises:
        StoryboardUnreadable: when a record has faults.
    """
    for record in batches(folder):
        for name, submission in record.batch.submissions.items():
            yield Sent(
                record=record, name=name, submission=submission, person_id=submission.person,
                person=record.batch.people[submission.person],
            )  # fmt: skip
