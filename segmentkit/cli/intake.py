"""`segmentkit intake`: look at what viewers sent, and say what each clip can be used for."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import click

from segmentkit.cli.console import progress, show_json
from segmentkit.cli.options import day, json_output, read_day
from segmentkit.errors import MediaUnusable


@click.command("intake")
@click.argument("where", metavar="BATCH", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for page, CSV and JSON.")
@click.option("--limits", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="Limits of your own.")
@day
@json_output
def command(
    where: tuple[Path, ...], out: Path | None, limits: Path | None, today: str | None, as_json: bool
) -> int:  # fmt: skip
    """Judge every clip of BATCH: use; use, limited; reshoot; not used — with reasons and numbers.

    BATCH is a folder with a submissions.yaml, or that file; or any folder or clips without a record, of which only the
    pictures can be judged. Writes intake.html, intake.csv and intake.json. No clip is changed.
    """
    from segmentkit.intake.batch import SubmissionReport, run_batch, run_loose  # noqa: PLC0415  loads decoders
    from segmentkit.intake.page import batch_page  # noqa: PLC0415
    from segmentkit.intake.record import as_data, csv_text, write_text  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.storyboard.limits_file import intake_limits  # noqa: PLC0415
    from segmentkit.storyboard.submission import BATCH, load_batch  # noqa: PLC0415

    date = read_day(today) or datetime.date.today()
    numbers = intake_limits(limits)
    first = where[0]
    record = first / BATCH if first.is_dir() else first
    with progress(quiet=as_json) as report:
        reports: tuple[SubmissionReport, ...]
        if len(where) == 1 and record.name.endswith((".yaml", ".yml")) and record.is_file():
            loaded = load_batch(record)
            folder = loaded.folder
            reports = run_batch(loaded, Store.of(folder), numbers, date, report)
        else:
            folder = first if first.is_dir() else first.parent
            files = _files(where)
            reports = run_loose(files, Store.of(folder), numbers, report)
    target = out or folder / "intake"
    write_text(target / "intake.html", batch_page(reports, f"Intake of {folder.absolute().name}", date))
    write_text(target / "intake.csv", csv_text(reports))
    data = as_data(reports)
    write_text(target / "intake.json", json.dumps(data, indent=2, ensure_ascii=False) + "\n")
    if as_json:
        show_json(data)
        return 0
    for judged in reports:
        decided = f" ({judged.decided})" if judged.decided else ""
        click.echo(f"{judged.id}: {click.style(judged.word.value, bold=True)}{decided}")
        for reason in judged.reasons:
            click.echo(f"    {reason.what} [{reason.id}]")
        for part in judged.parts:
            click.echo(f"    {part.part}: {part.word.value}")
            for reason in part.reasons:
                click.echo(f"        {reason.what} [{reason.id}]")
    click.echo(str(target / "intake.html"))
    return 0


def _files(where: tuple[Path, ...]) -> list[Path]:
    """The files named, and those in the folders named; hidden ones and our own texts are passed over."""
    files: list[Path] = []
    for path in where:
        if path.is_dir():
            files += sorted(
                p for p in path.iterdir() if p.is_file() and not p.name.startswith(".") and p.suffix != ".yaml"
            )
        else:
            files.append(path)
    if not files:
        raise MediaUnusable(f"{where[0]} — holds no files — a folder of clips is needed — name another one")
    return files
