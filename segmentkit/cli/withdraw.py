"""`segmentkit withdraw`: everything of a viewer across a season, listed; removed when it is said twice."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.options import day, json_output, read_day


@click.command("withdraw")
@click.argument("viewer")
@click.option(
    "--season", "file", required=True, type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="The season's file.",
)  # fmt: skip
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Finished files; else out/.")
@click.option("--yes", is_flag=True, help="Remove it. Without this nothing is touched.")
@click.option("--receipt", type=click.Path(path_type=Path, dir_okay=False), help="Write the receipt under this name.")
@day
@json_output
def command(
    viewer: str, file: Path, out: Path | None, yes: bool, receipt: Path | None, today: str | None, as_json: bool
) -> int:
    """List everything of VIEWER, a name under people, in a whole season; with --yes, remove it.

    Clips as sent and every copy, working copies, encoded pieces that show the person, finished files, stills, papers,
    letters, lines of the journal, rows of the season and entries of the records. What is shared with others stays.
    What a person wrote by hand is named with its lines and left to a person; what has left the house is listed. The
    receipt says how much went and names nobody.

    Exit code 0: listed, or removed and nothing is left; 1: something could not be removed, or is left to a person.
    """
    import datetime  # noqa: PLC0415
    import secrets  # noqa: PLC0415

    from segmentkit.cli.console import show_json  # noqa: PLC0415
    from segmentkit.intake.record import write_text  # noqa: PLC0415
    from segmentkit.season.withdraw import carry_out, look_for  # noqa: PLC0415
    from segmentkit.season.withdraw import receipt as receipt_text  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    date = read_day(today) or datetime.date.today()
    season = load_season(file)
    target = out or file.parent / "out"
    seen = look_for(viewer, season, target, date)
    left = carry_out(seen.found, season, target) if yes else tuple(t for t in seen.found if t.how == "person")
    if yes:
        number = f"W-{date:%Y%m%d}-{secrets.token_hex(3)}"
        receipt = receipt or file.parent / f"receipt-{number}.txt"
        write_text(receipt, receipt_text(seen, left, date, number))
    if as_json:
        show_json({
            "removed": yes, "items": list(seen.items),
            "found": [{"file": str(t.path), "why": t.why, "how": t.how, "lines": list(t.lines)} for t in seen.found],
            "left": [{"file": str(t.path), "why": t.why, "lines": list(t.lines)} for t in left],
            "sent": [{"what": c.what, "file": c.file, "sha256": c.sha256, "who": c.who} for c in seen.sent],
            "receipt": str(receipt) if yes else None,
        })  # fmt: skip
        return 1 if yes and left else 0
    stuck = {trace.path for trace in left}
    for trace in seen.found:
        if trace.path not in stuck:
            does = "remove" if trace.how == "remove" else "take out"
            click.echo(f"{f'{does}d' if yes and does == 'remove' else does}: {trace.path} ({trace.why})")
    for trace in left:
        lines = f", lines {', '.join(map(str, trace.lines))}" if trace.lines else ""
        click.echo(f"left to a person: {trace.path} ({trace.why}{lines})")
    for copy in seen.sent:
        click.echo(f"cannot be recalled: {copy.what} {copy.file} — {copy.who} — SHA-256 {copy.sha256[:16]}…")
    if yes:
        click.echo(f"receipt: {receipt}")
    else:
        click.echo(
            f"nothing was touched: {len(seen.found)} files hold something of {viewer}; remove them with --yes", err=True
        )
    return 1 if yes and left else 0
