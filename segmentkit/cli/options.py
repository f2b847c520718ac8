"""Arguments and options that several verbs share."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from segmentkit.checks.rules import Rules, read_rules
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

F = TypeVar("F", bound=Callable[..., Any])
STORYBOARD = click.argument("storyboard", type=click.Path(path_type=Path, dir_okay=False))
json_output = click.option("--json", "as_json", is_flag=True, help="Print data for machines.")
day = click.option("--today", metavar="DATE", help="Judge releases as of this day, such as 2028-06-30.")
rules_file = click.option(
    "--rules", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A house-rules file of your own."
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
