"""Waits for files to be saved, and for the saving to be over."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path

from segmentkit.cli.stopping import heed

EVERY = 0.1
"""Seconds between two looks at the files."""
_QUIET = 0.12
"""Seconds without a further change after which a save counts as over; an editor writes a file in one go or two."""
_LONGEST = 2.0
"""Seconds after which nobody waits for quiet any more: a clip that is being copied changes all the time."""
_LOOKS = 0.25  # seconds between two looks while work goes on

Stamps = dict[Path, tuple[int, int, int]]


class Superseded(Exception):
    """Something was saved while work went on, so its result is of no use."""


class Watch:
    """Knows how files were when they were last taken up, and tells when that has changed.

    Args:
        always: files that are watched whatever the storyboard names.
    """

    def __init__(self, *always: Path) -> None:
        self._always = always
        self._named: tuple[Path, ...] = ()
        self._seen = _stamps(always)
        self._looked = 0.0

    def follow(self, named: Iterable[Path]) -> None:
        """Watches these files and folders besides, instead of those named before."""
        self._named = tuple(named)
        now = self._now()
        # What was known keeps its old stamp: it may have been saved again since it was read.
        self._seen = {path: self._seen.get(path, stamp) for path, stamp in now.items()}

    def saved(self) -> bool:
        """Whether something was saved since it was last taken up; waits for the save to be over, and takes it up."""
        heed()
        now = self._now()
        if now == self._seen:
            return False
        began = still = time.monotonic()
        while time.monotonic() - still < _QUIET and time.monotonic() - began < _LONGEST:
            time.sleep(_QUIET / 4)
            heed()
            if (later := self._now()) != now:
                now, still = later, time.monotonic()
        self._seen = now
        return True

    def wait(self) -> None:
        """Returns when something was saved."""
        while not self.saved():
            time.sleep(EVERY)

    def heeding(self, report: Callable[[str, int, int], None]) -> Callable[[str, int, int], None]:
        """A progress report that also gives up what is out of date.

        Raises:
            Superseded: from the report, when something was saved meanwhile.
        """

        def told(step: str, done: int, of: int) -> None:
            report(step, done, of)
            if time.monotonic() - self._looked >= _LOOKS:
                self._looked = time.monotonic()
                if self._now() != self._seen:
                    raise Superseded

        return told

    def _now(self) -> Stamps:
        return _stamps((*self._always, *self._named))


def _stamps(places: Iterable[Path]) -> Stamps:
    """Time of change, size and number of all files that are there; of a folder, of the files in it."""
    found: Stamps = {}
    for place in places:
        try:
            files = sorted(place.iterdir()) if place.is_dir() else [place]
        except OSError:
            continue
        for path in files:
            try:
                stat = path.stat()
            except OSError:
                continue
            found[path] = (stat.st_mtime_ns, stat.st_size, stat.st_ino)
    return found
