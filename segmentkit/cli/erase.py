"""`segmentkit erase`: find and remove everything of a person."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.options import json_output


@click.command("erase")
@click.argument("viewer")
@click.option(
    "--folder", type=click.Path(path_type=Path, exists=True, file_okay=False), default=".",
    help="Where batches, storyboards and outputs lie; else the folder you are in.",
)  # fmt: skip
@click.option("--now", is_flag=True, help="Remove it. Without this nothing is touched.")
@json_output
def command(viewer: str, folder: Path, now: bool, as_json: bool) -> int:
    """List everything below the folder that was made of VIEWER, a name under people; with --now, remove it."""
    from segmentkit.cli.console import show_json  # noqa: PLC0415
    from segmentkit.intake.erase import remove, traces  # noqa: PLC0415

    found = traces(viewer, folder)
    left = remove(found) if now else tuple(trace for trace in found if trace.how == "person")
    if as_json:
        listed = [{"file": str(t.path), "why": t.why, "how": t.how, "lines": list(t.lines)} for t in found]
        show_json({"removed": now, "found": listed, "left": [str(trace.path) for trace in left]})
        return 1 if now and left else 0
    does = {"remove": "removed" if now else "would be removed", "entry": "entry taken out" if now else "entry would go"}
    for trace in found:
        if trace.how in does and trace.path not in {one.path for one in left}:
            click.echo(f"{does[trace.how]}: {trace.path} ({trace.why})")
    for trace in left:
        lines = f", lines {', '.join(map(str, trace.lines))}" if trace.lines else ""
        click.echo(f"left to a person: {trace.path} ({trace.why}{lines})")
    if not now:
        click.echo(
            f"nothing was touched: {len(found)} files hold something of {viewer}; erase them with --now", err=True
        )
    return 1 if now and left else 0
