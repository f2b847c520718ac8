"""Makes a season from its file, on the day of the tests and in this process."""

from __future__ import annotations

import datetime

from segmentkit.season.carry import Shared
from segmentkit.season.outcome import Options
from segmentkit.season.run import run_season
from segmentkit.storyboard.season import load_season
from tests.season.tasks import Inline

TODAY = datetime.date(2028, 4, 1)


def made(path, hired=None, **changes):
    """The report; those who were hired are added to `hired`, `changes` are options."""
    crews = [] if hired is None else hired

    def hire():
        crews.append(Inline())
        return crews[-1], Shared()

    options = Options(**{"today": TODAY, "retries": 0, **changes})
    return run_season(load_season(path), path.parent / "out", options, hire)
