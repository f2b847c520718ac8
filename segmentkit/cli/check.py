"""`segmentkit check`: judge a storyboard in seconds, without a render."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import counted, progress, show_findings, show_json
from segmentkit.cli.options import STORYBOARD, day, house_rules, json_output, read_day, rules_file
from segmentkit.errors import NotFit
from segmentkit.findings import Finding
from segmentkit.timebase import clock_text, label_of_frame, seconds_of, seconds_of_frame

if TYPE_CHECKING:
    from segmentkit.versions import Version


@click.command("check")
@STORYBOARD
@click.option("--final", is_flag=True, help="Judge as a final render: no guide voice unless the storyboard allows it.")
@rules_file
@day
@json_output
def command(storyboard: Path, final: bool, rules: Path | None, today: str | None, as_json: bool) -> int:
    """Judge STORYBOARD: slot, words, strokes, cards, cautions, consent. Nothing is rendered."""
    from segmentkit.pipeline import check  # noqa: PLC0415

    try:
        with progress(quiet=as_json) as report:
            day_ = read_day(today)
            checked = check(storyboard, final=final, today=day_, rules=house_rules(rules), progress=report)
    except NotFit as refused:
        findings = tuple(f for f in refused.findings if isinstance(f, Finding))
        if as_json:
            show_json({"findings": [finding.as_data() for finding in findings]})
        else:
            show_findings(findings)
            click.echo("consent comes first: the clips were not opened, so the other checks wait", err=True)
        return refused.exit_code
    findings, plan = checked.findings, checked.plan
    if as_json:
        data = [finding.as_data() for finding in findings]
        versions = [
            {
                "deliveries": [to.name for to in version.deliveries], "frames": version.plan.frames,
                "slot": version.plan.slot, "rate": str(version.plan.rate), "size": str(version.plan.size),
            }
            for version in checked.versions
        ]  # fmt: skip
        show_json(
            {
                "frames": plan.frames, "slot": plan.slot, "rate": str(plan.rate), "versions": versions,
                "refused": [one.delivery.name for one in checked.refused], "findings": data,
            }
        )  # fmt: skip
    else:
        show_findings(findings)
        for version in checked.versions[1:]:
            click.echo(f"{', '.join(to.name for to in version.deliveries)}: {_verdict(version)}")
        click.echo(f"{plan.title}: {_verdict(checked.versions[0])}; {counted(findings)}")
    return 0 if checked.fits else 1


def _verdict(version: Version) -> str:
    plan, segment = version.plan, version.loaded.board.segment
    over = plan.frames - plan.slot
    fit = "meets its slot" if not over else f"{'over' if over > 0 else 'under'} by {abs(over)} frames"
    off = plan.slot / plan.rate.fps - seconds_of(segment.slot, segment.rate)
    near = f", the frame nearest to {segment.slot} ({float(off):+.4f} s)" if off else ""
    length = f"{label_of_frame(plan.frames, plan.rate)} ({clock_text(seconds_of_frame(plan.frames, plan.rate))})"
    return f"{length}, {plan.frames} frames at {plan.rate}, {fit}{near}"
