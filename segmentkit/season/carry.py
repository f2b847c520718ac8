"""How work gets to the workers: by name where all see one storage, else by content, with all that it needs."""

from __future__ import annotations

from concurrent.futures import Executor, Future
from typing import Any, Protocol

from segmentkit.season.crew import busy
from segmentkit.season.entry import Entry
from segmentkit.season.work import LookTask, MakeTask, look, make


class Carrier(Protocol):
    """Hands tasks to an executor and takes results back."""

    def look(self, executor: Executor, task: LookTask, entry: Entry) -> Future[Any]:
        """Has a submission judged."""
        ...

    def make(self, executor: Executor, task: MakeTask, entry: Entry) -> Future[Any]:
        """Has an item made."""
        ...

    def receive(self, result: Any, task: MakeTask) -> Any:
        """What came back of an item, its files in their place.

        Raises:
            OutputFailed: when a file cannot be written.
        """
        ...


class Shared:
    """All workers see the same folders under the same names: nothing is carried but names."""

    def look(self, executor: Executor, task: LookTask, entry: Entry) -> Future[Any]:
        """Has a submission judged where it lies."""
        del entry
        return executor.submit(busy, look, task)

    def make(self, executor: Executor, task: MakeTask, entry: Entry) -> Future[Any]:
        """Has an item made where it lies; the worker puts its files into place."""
        del entry
        return executor.submit(busy, make, task)

    def receive(self, result: Any, task: MakeTask) -> Any:
        """The files are in place already."""
        del task
        return result
