"""What a person sees: findings, and progress with the time left. Machines get JSON on standard output instead."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from segmentkit.cli.stopping import heed
from segmentkit.errors import NotFit, NotReleased
from segmentkit.findings import Finding, Severity

if TYPE_CHECKING:
    from segmentkit.pipeline import Progress

_COLOURS = {Severity.ERROR: "red", Severity.WARNING: "yellow", Severity.NOTE: "cyan"}


def show_findings(findings: Sequence[Finding]) -> None:
    """Prints findings for reading: place, weight, what is, what to do."""
    for finding in findings:
        weight = click.style(finding.severity.value, fg=_COLOURS[finding.severity], bold=True)
        place = f"{finding.place}: " if finding.place else ""
        click.echo(f"{place}{weight}: {finding.where}: {finding.what}")
        click.echo(f"    {finding.remedy}  {click.style(f'[{finding.id}]', dim=True)}")


def counted(findings: Sequence[Finding]) -> str:
    """How many findings of each weight, such as `2 errors, 1 note`."""
    parts = []
    for severity in Severity:
        number = sum(finding.severity is severity for finding in findings)
        if number:
            parts.append(f"{number} {severity.value}{'s' if number > 1 else ''}")
    return ", ".join(parts) or "no findings"


def show_json(data: object) -> None:
    """Prints data for machines."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False))


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Progress]:
    """Shows steps on standard error: a bar with the time left on a terminal, one line a step elsewhere.

    Each step is also where a request to stop is heeded.
    """
    if quiet:
        yield _heeding(lambda *_: None)
    elif sys.stderr.isatty():
        with _bar() as report:
            yield _heeding(report)
    else:
        yield _heeding(_Lines().report)


def _heeding(report: Progress) -> Progress:
    def told(step: str, done: int, of: int) -> None:
        heed()
        report(step, done, of)

    return told


@contextmanager
def _bar() -> Iterator[Progress]:
    from rich import progress as rich_progress  # noqa: PLC0415
    from rich.console import Console  # noqa: PLC0415  only where someone is looking

    columns = (
        rich_progress.TextColumn("{task.description:>14}"),
        rich_progress.BarColumn(),
        rich_progress.TextColumn("{task.percentage:>3.0f} %"),
        rich_progress.TimeElapsedColumn(),
        rich_progress.TextColumn("left"),
        rich_progress.TimeRemainingColumn(),
    )
    with rich_progress.Progress(*columns, console=Console(stderr=True)) as bar:
        tasks: dict[str, rich_progress.TaskID] = {}

        def finish_all() -> None:
            for task in bar.tasks:
                bar.update(task.id, completed=task.total)

        def report(step: str, done: int, of: int) -> None:
            if step not in tasks:
                finish_all()
                tasks[step] = bar.add_task(step, total=max(1, of))
            bar.update(tasks[step], completed=done, total=max(1, of))

        yield report
        finish_all()


class _Lines:
    """One line when a step begins, and one every few seconds while it lasts, with the time left."""

    every = 5.0

    def __init__(self) -> None:
        self._step = ""
        self._began = self._said = 0.0

    def report(self, step: str, done: int, of: int) -> None:
        now = time.monotonic()
        if step != self._step:
            self._step, self._began, self._said = step, now, now
            click.echo(f"{step} ...", err=True)
        elif done and now - self._said >= self.every:
            left = (now - self._began) * (of - done) / done
            click.echo(f"{step} {100 * done // of} %, about {left:.0f} s left", err=True)
            self._said = now


def show_refusal(refused: NotFit, verb: str, *, as_json: bool) -> int:
    """Says why nothing was made: what the check found, or what quality control says of the finished file.

    Returns:
        The exit code.
    """
    findings = tuple(one for one in refused.findings if isinstance(one, Finding))
    if as_json:
        show_json({"findings": [finding.as_data() for finding in findings]})
        return refused.exit_code
    show_findings(findings)
    last = (
        str(refused).splitlines()[0] if isinstance(refused, NotReleased) else f"nothing was {verb}: {counted(findings)}"
    )
    click.echo(last, err=True)
    return refused.exit_code
