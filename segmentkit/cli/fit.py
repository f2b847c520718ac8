"""`segmentkit fit`: who gives and who takes, what if the slot were another, and the lengths written back."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress, show_json
from segmentkit.cli.options import STORYBOARD, json_output, read_length
from segmentkit.pipeline import check
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.timebase import Rate, nearest_frame, seconds_of


@click.command("fit")
@STORYBOARD
@click.option(
    "--slot", metavar="LENGTH", help="What if the slot were 2:50? Nothing is changed unless --write is given."
)
@click.option(
    "--write", is_flag=True, help="Write the solved holds (and the slot) into the storyboard; all else stays."
)
@json_output
def command(storyboard: Path, slot: str | None, write: bool, as_json: bool) -> int:
    """Show how STORYBOARD meets its slot: a table of beats, who could give or take, and which words could go."""
    from segmentkit.checks.spare import why_they_stay  # noqa: PLC0415
    from segmentkit.plan.advice import advise  # noqa: PLC0415
    from segmentkit.plan.build import build_plan  # noqa: PLC0415
    from segmentkit.plan.fit_report import fit_report  # noqa: PLC0415
    from segmentkit.plan.fit_table import fit_data, fit_text  # noqa: PLC0415
    from segmentkit.plan.write_holds import solved_text  # noqa: PLC0415

    with progress(quiet=as_json) as report:
        checked = check(storyboard, progress=report)
    loaded, facts, plan = checked.loaded, checked.facts, checked.plan
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
        solved = solved_text(loaded, facts, plan, slot)
        _write(storyboard, loaded, solved.text)
        if not as_json:
            for change in solved.changes:
                was = change.was or "not written"
                click.echo(f"beat {change.beat}, shot {change.shot + 1} ({change.kind}): hold {was} -> {change.now}")
            if slot is not None:
                click.echo(f"segment, slot: {slot}")
            click.echo(f"{storyboard}: {len(solved.changes)} hold(s) written; it plans to the same frames")
    return 1 if told.over else 0


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
