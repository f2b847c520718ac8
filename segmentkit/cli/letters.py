"""`segmentkit letters`: letters to viewers, filled from the verdicts of an intake."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.options import day, read_day
from segmentkit.errors import StoryboardUnreadable


@click.command("letters")
@click.argument("batch", type=click.Path(path_type=Path))
@click.option(
    "--kind", help="received, reshoot, not-this-time, selected, aired or follow-up; else as the verdict says."
)
@click.option("--only", multiple=True, metavar="ID", help="Only this submission; may be repeated.")
@click.option("--set", "given", multiple=True, metavar="FIELD=VALUE", help="Value of a field, such as day=3 May.")
@click.option("--report", type=click.Path(path_type=Path, dir_okay=False), help="The intake.json to fill from.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Folder; else letters beside the batch."
)
@click.option("--limits", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="Limits of your own.")
@click.option("--words", type=click.Path(path_type=Path, file_okay=False), help="Folder with words of your own.")
@click.option(
    "--contacts", type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Also write send.csv with the addresses of this file; they stand nowhere else.",
)  # fmt: skip
@day
def command(
    batch: Path, kind: str | None, only: tuple[str, ...], given: tuple[str, ...], report: Path | None, out: Path | None,
    limits: Path | None, words: Path | None, contacts: Path | None, today: str | None,
) -> int:  # fmt: skip
    """Write letters for the submissions of BATCH, as text. Who took the release back gets none."""
    import datetime  # noqa: PLC0415

    from segmentkit.intake.mail import post, write_addresses  # noqa: PLC0415
    from segmentkit.storyboard.limits_file import intake_limits  # noqa: PLC0415
    from segmentkit.storyboard.submission import load_batch, load_contacts  # noqa: PLC0415

    fields = {}
    for pair in given:
        field, found, value = pair.partition("=")
        if not found or not field.strip():
            raise click.BadParameter(
                f"{pair!r} has no value — write a field and its value, day=3 May", param_hint="--set"
            )
        fields[field.strip()] = value
    loaded = load_batch(batch)
    unknown = [id_ for id_ in only if id_ not in loaded.batch.submissions]
    if unknown:
        raise StoryboardUnreadable(f"{loaded.file} — has no submission `{unknown[0]}` — take an id that stands there")
    data = report or loaded.folder / "intake" / "intake.json"
    target = out or loaded.folder / "letters"
    date = read_day(today) or datetime.date.today()
    written, skipped = post(loaded, data, target, intake_limits(limits), words, fields, kind, only, date)
    for path in written.values():
        click.echo(str(path))
    for id_, why in skipped.items():
        click.echo(f"{id_}: no letter — {why}", err=True)
    if contacts is not None:
        click.echo(str(write_addresses(target / "send.csv", loaded, written, load_contacts(contacts))))
    return 0
