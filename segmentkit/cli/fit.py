"""`segmentkit fit`: who gives and who takes, what if the slot were another, and the lengths written back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import progress, show_json
from segmentkit.cli.options import (
    STORYBOARD,
    json_output,
    looked_at,
    read_length,
    version_option,
    version_read,
    warn_of_shared,
)
from segmentkit.facts import Facts
from segmentkit.timebase import Rate, nearest_frame, seconds_of

if TYPE_CHECKING:
    from segmentkit.plan.write_holds import Reader
    from segmentkit.storyboard.load import LoadedStoryboard


@click.command("fit")
@STORYBOARD
@click.option(
    "--slot", metavar="LENGTH", help="What if the slot were 2:50? Nothing is changed unless --write is given."
)
@click.option(
    "--write", is_flag=True, help="Write the solved holds (and the slot) into the storyboard; all else stays."
)
@version_option
@json_output
def command(storyboard: Path, slot: str | None, write: bool, profile: str | None, as_json: bool) -> int:
    """Show how STORYBOARD meets its slot: a table of beats, who could give or take, and which words could go.

    With --profile it is the slot of another version, such as a cut; --write then writes where its beats are written.
    """
    from segmentkit.checks.spare import why_they_stay  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.plan.advice import advise  # noqa: PLC0415
    from segmentkit.plan.build import build_plan  # noqa: PLC0415
    from segmentkit.plan.fit_report import fit_report  # noqa: PLC0415
    from segmentkit.plan.fit_table import fit_data, fit_text  # noqa: PLC0415
    from segmentkit.plan.write_holds import solved_text  # noqa: PLC0415

    with progress(quiet=as_json) as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
    loaded, facts, plan = checked.loaded, checked.facts, checked.plan
    if write and profile is None and not checked.versions[0].whole:
        raise click.UsageError(
            "--write writes the lengths of the whole segment, and the first delivery is another version — "
            "name the version with --profile, or list one of the whole first"
        )
    before = None
    if slot is not None:
        before, rate = plan, loaded.board.segment.rate
        plan, _ = build_plan(loaded, facts, slot=_frames(slot, rate))
    told = fit_report(plan, loaded.board, before)
    advice = advise(loaded, facts, plan, why_they_stay)
    if as_json:
        show_json(fit_data(told, advice))
    else:
        click.echo(fit_text(told, advice), nl=False)
    if write:
        whole = checked.versions[0].whole
        solved = solved_text(loaded, facts, plan, slot, None if whole else _reader(loaded, profile))
        _write(storyboard, loaded, solved.text)
        if not as_json:
            for change in solved.changes:
                was = change.was or "not written"
                click.echo(f"beat {change.beat}, shot {change.shot + 1} ({change.kind}): hold {was} -> {change.now}")
            if slot is not None:
                click.echo(f"segment, slot: {slot}")
            click.echo(f"{storyboard}: {len(solved.changes)} hold(s) written; it plans to the same frames")
        warn_of_shared((change.beat for change in solved.changes if change.shared and not whole), profile)
    return 1 if told.over else 0


def _reader(loaded: LoadedStoryboard, profile: str | None) -> Reader:
    """How the version is read and measured anew from a text with other holds; quick, as no media is new."""
    from segmentkit.measure import measured  # noqa: PLC0415
    from segmentkit.storyboard.load import loads  # noqa: PLC0415

    def again(text: str) -> tuple[LoadedStoryboard, Facts]:
        return measured(version_read(loads(text, loaded.file, loaded.folder), profile), lambda *_: None)

    return again


def _frames(slot: str, rate: Rate) -> int:
    frames = nearest_frame(seconds_of(read_length(slot, rate, "--slot"), rate), rate)
    if not frames:
        raise click.BadParameter(
            f"{slot} is shorter than a frame at {rate} — write a length such as 2:50", param_hint="--slot"
        )
    return frames


def _write(storyboard: Path, loaded: LoadedStoryboard, text: str) -> None:
    from segmentkit.media.safe import writing  # noqa: PLC0415

    if text == loaded.text:
        return
    with writing(storyboard) as partial:
        partial.write_bytes(text.encode())
