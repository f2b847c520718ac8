"""Every way in which segmentkit cannot go on.

SegmentkitError
 ├─ StoryboardUnreadable   the text is not a storyboard; carries all its faults at once      exit 3
 ├─ MediaUnusable          a clip, take, still or font cannot be used                        exit 4
 ├─ NotFit                 findings forbid a render                                          exit 1
 │   └─ NotReleased        a finished file failed quality control                          exit 1
 ├─ OutputFailed           the finished file could not be written or did not verify          exit 5
 └─ Interrupted            a person stopped the work                                         exit 130

A *finding* (see `findings`) is something a producer can put right; these are the cases where there is nothing to show.
Texts follow one form: place — what is, with number and unit — what is allowed — what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol


class LocatedFault(Protocol):
    """A spot in a text with what is wrong there; `str` gives the lines to print."""

    def as_data(self) -> dict[str, object]:
        """The fault as plain data for `--json`."""
        ...


class SegmentkitError(Exception):
    """Base of all errors that segmentkit raises on purpose; `exit_code` is what the command line returns."""

    exit_code = 1


class StoryboardUnreadable(SegmentkitError):
    """The text cannot become a storyboard. The message lists every fault with file, line and column.

    Attributes:
        faults: the same faults one by one, in the order of the text; empty when there was no text to look at.
    """

    exit_code = 3

    def __init__(self, message: str, faults: Sequence[LocatedFault] = ()) -> None:
        super().__init__(message)
        self.faults = tuple(faults)


class MediaUnusable(SegmentkitError):
    """A file that the storyboard names cannot be read, decoded or used."""

    exit_code = 4


class NotFit(SegmentkitError):
    """The check found errors, so nothing was rendered; `findings` holds them (as `findings.Finding`)."""

    exit_code = 1

    def __init__(self, message: str, findings: tuple[object, ...] = ()) -> None:
        super().__init__(message)
        self.findings = findings


class NotReleased(NotFit):
    """A finished file failed quality control and nobody answered for it; it lies under another name, with a report."""


class OutputFailed(SegmentkitError):
    """A finished file could not be written, or did not verify when it was decoded again."""

    exit_code = 5


class Interrupted(SegmentkitError):
    """A person stopped the work; nothing was left under a final name."""

    exit_code = 130
