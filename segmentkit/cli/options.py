"""Arguments and options that several verbs share."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from segmentkit.timebase import (
    NOTATIONS,
    Rate,
    Seconds,
    SourceFrame,
    Timecode,
    TimeNotationError,
    nearest_frame,
    parse_time,
    seconds_of,
)

if TYPE_CHECKING:
    from segmentkit.checks.rules import Rules
    from segmentkit.deliver.qc_data import Override
    from segmentkit.storyboard.load import LoadedStoryboard

F = TypeVar("F", bound=Callable[..., Any])
STORYBOARD = click.argument("storyboard", type=click.Path(path_type=Path, dir_okay=False))
json_output = click.option("--json", "as_json", is_flag=True, help="Print data for machines.")
day = click.option("--today", metavar="DATE", help="Judge releases as of this day, such as 2028-06-30.")
rules_file = click.option(
    "--rules", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A house-rules file of your own."
)


version_option = click.option(
    "--profile", metavar="NAME", help="Look at what this delivery shows, such as short; else the storyboard's first."
)


def override_options(command: F) -> F:
    """Who answers for a file that fails quality control, and why."""
    by = click.option(
        "--override-by", metavar="NAME",
        help="Hand the file over although quality control fails; the report and the manifest say who did.",
    )  # fmt: skip
    return by(click.option("--because", metavar="REASON", help="Why, with --override-by.")(command))


def read_override(by: str | None, because: str | None, today: str | None) -> Override | None:
    """The override that was given, with a name and a reason; None without."""
    if by is None and because is None:
        return None
    if not (by or "").strip() or not (because or "").strip():
        raise click.BadParameter("a person answers by name, and says why: give both", param_hint="--override-by")
    from segmentkit.deliver.qc_data import Override  # noqa: PLC0415

    day_ = read_day(today) or datetime.date.today()
    return Override(by=str(by).strip(), reason=str(because).strip(), on=day_.isoformat())


def looked_at(storyboard: Path, profile: str | None) -> list[str]:
    """The one delivery whose version a verb looks at: the one asked for, else the storyboard's first."""
    from segmentkit.storyboard.load import load  # noqa: PLC0415

    return [profile or load(storyboard).board.deliver[0]]


def version_read(loaded: LoadedStoryboard, profile: str | None) -> LoadedStoryboard:
    """The version that a delivery shows, as it is written; the whole when none is asked for."""
    # Verbs that ask for no version start without what checks and drawing need.
    from segmentkit.storyboard.cuts import version_of  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415
    from segmentkit.versions import drawn_at  # noqa: PLC0415

    return loaded if profile is None else version_of(loaded, drawn_at(delivery(profile, loaded.folder), loaded))


def warn_of_shared(beats: Iterable[str], profile: str | None) -> None:
    """Says that what was changed for one version stands in beats of the whole."""
    names = list(dict.fromkeys(beats))
    if names and profile is not None:
        told = ("beat", "is", "it") if len(names) == 1 else ("beats", "are", "them")
        click.echo(
            f"{told[0]} {', '.join(names)} {told[1]} written once for all versions that show {told[2]} — what changed "
            f"for {profile} changed there as well",
            err=True,
        )


def read_day(text: str | None) -> datetime.date | None:
    """A day given on the command line."""
    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a date — write year-month-day", param_hint="--today") from None


def house_rules(path: Path | None) -> Rules | None:
    """House rules from a file; None for the shipped ones."""
    from segmentkit.checks.rules import read_rules  # noqa: PLC0415

    return None if path is None else read_rules(path)


def read_moment(text: str, rate: Rate) -> int:
    """An output frame from a time of the segment: seconds, a label, or `f218`."""
    try:
        time = parse_time(text)
        return time.index if isinstance(time, SourceFrame) else nearest_frame(seconds_of(time, rate), rate)
    except TimeNotationError as error:
        raise click.BadParameter(f"{error} ({NOTATIONS})", param_hint="--at") from None


def read_length(text: str, rate: Rate, option: str) -> Seconds | Timecode:
    """A length given on the command line, in seconds or as a label at a rate."""
    try:
        time = parse_time(text)
        if isinstance(time, SourceFrame):
            raise TimeNotationError(f"{time} is a frame of a clip, not a length — write seconds such as 170s, or 2:50")
        seconds_of(time, rate)
    except TimeNotationError as error:
        raise click.BadParameter(str(error), param_hint=option) from None
    return time
