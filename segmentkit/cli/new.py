"""`segmentkit new`: start a project from a template."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import show_json
from segmentkit.cli.options import json_output

if TYPE_CHECKING:
    from segmentkit.storyboard.template import Record


@click.command("new")
@click.argument("template", required=False)
@click.argument("folder", required=False, type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--values", type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A file of values; else FOLDER/values.yaml, if it is there.",
)  # fmt: skip
@click.option(
    "--set", "pairs", multiple=True, metavar="NAME=VALUE", help="One value; a file may lie anywhere, it is copied."
)
@click.option(
    "--submission", type=click.Path(path_type=Path, exists=True),
    help="A folder of submissions: viewer, clips, positions and question come from there.",
)  # fmt: skip
@click.option("--id", "id_", help="Which submission, where the folder has several.")
@click.option(
    "--from", "places", multiple=True, type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="Where the files lie that values name; else beside the values.",
)  # fmt: skip
@click.option("--check", "judge", is_flag=True, help="Judge the new storyboard at once, as `segmentkit check` does.")
@click.option("--list", "listing", is_flag=True, help="List the templates; with TEMPLATE, explain its blanks.")
@json_output
def command(
    template: str | None, folder: Path | None, values: Path | None, pairs: tuple[str, ...], submission: Path | None,
    id_: str | None, places: tuple[Path, ...], judge: bool, listing: bool, as_json: bool,
) -> int:  # fmt: skip
    r"""Start a project in FOLDER from TEMPLATE: a shipped one by name, or a file of your own.

    Without values it writes FOLDER/values.yaml to be filled in; called again, it reads that file, writes the
    storyboard, copies what it names, and leaves a note of what is still open. Nothing is overwritten.

    \b
    segmentkit new --list
    segmentkit new review clinic                        writes clinic/values.yaml
    segmentkit new review clinic                        after filling it in
    segmentkit new review clinic --submission sent --id maren --set fault=sway
    """
    if listing or template is None:
        return _listed(template, as_json)
    if folder is None:
        raise click.UsageError("FOLDER is missing — say where the project should be, such as `clinic`")
    made, code = _started(template, folder, values, pairs, submission, id_, places, as_json, judge=judge)
    if made is None or not judge:
        return code
    from segmentkit.cli.check import command as check  # noqa: PLC0415

    context = click.get_current_context()
    return int(context.invoke(check, storyboard=made, final=False, rules=None, today=None, as_json=as_json))


def _started(
    name: str, folder: Path, file: Path | None, pairs: tuple[str, ...], submission: Path | None, id_: str | None,
    places: tuple[Path, ...], as_json: bool, *, judge: bool,
) -> tuple[Path | None, int]:  # fmt: skip
    """Writes the storyboard, or the values to be filled in; gives the storyboard's path where it was written."""
    from segmentkit.newproject import VALUES, chosen_fault, given_one_by_one, missing, start, write_values  # noqa: PLC0415
    from segmentkit.storyboard.template import load_template, read_values, values_from  # noqa: PLC0415

    template = load_template(name)
    one_by_one = given_one_by_one(template, [_pair(pair) for pair in pairs], folder, Path.cwd())
    given = one_by_one.values
    homes = list(places)
    if file is None and (folder / VALUES).is_file():
        file = folder / VALUES
    if file is not None:
        given = given.over(read_values(file))
        homes.insert(0, file.parent)
    if submission is not None:
        record = _record(submission, id_)
        fault = chosen_fault(template, given, folder)
        said = values_from(record, template.blanks, view=fault.view[0].value if fault is not None else None)
        homes.append(record.loaded.folder)
        given = given.over(said)
    lacking = missing(template, given)
    if lacking and file is None:
        path = write_values(template, folder, given, one_by_one)
        told = f"{len(lacking)} blank{'s' if len(lacking) > 1 else ''} to fill in: {', '.join(lacking)}"
        if as_json:
            show_json({"values": str(path), "missing": list(lacking)})
        else:
            words = ["segmentkit", "new", name, str(folder)]
            if submission is not None:
                words += ["--submission", str(submission), *(["--id", id_] if id_ else [])]
            click.echo(f"{path} — {told}\nfill it in, then run: {shlex.join(words)}")
        return None, 0
    started = start(template, given, folder, homes, one_by_one.files)
    if as_json and judge:
        return started.storyboard, 0
    if as_json:
        show_json({
            "storyboard": str(started.storyboard), "brought": list(started.brought), "open": list(started.open),
            "takes": list(started.takes),
        })  # fmt: skip
        return started.storyboard, 0
    click.echo(str(started.storyboard))
    if started.brought:
        click.echo(f"copied: {', '.join(started.brought)}")
    if started.open:
        click.echo(f"left open: {', '.join(started.open)}")
    if not judge:
        click.echo(f"next: segmentkit check {started.storyboard}")
    return started.storyboard, 0


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise click.BadParameter(f"{text!r} is not name=value", param_hint="--set")
    return name.strip(), value


def _record(submission: Path, id_: str | None) -> Record:
    from segmentkit.storyboard.template import read_records  # noqa: PLC0415

    records = {record.id: record for record in read_records(submission)}
    if id_ is None and len(records) == 1:
        return next(iter(records.values()))
    if id_ not in records:
        names = ", ".join(records) or "none"
        raise click.BadParameter(f"say which of the submissions: {names}", param_hint="--id")
    return records[id_]


def _listed(name: str | None, as_json: bool) -> int:
    from segmentkit.storyboard.template import load_template, template_names  # noqa: PLC0415
    from segmentkit.storyboard.template_page import as_data, explained  # noqa: PLC0415

    templates = [load_template(one) for one in ([name] if name is not None else template_names())]
    if as_json:
        show_json({template.name: as_data(template) for template in templates})
    elif name is not None:
        click.echo(explained(templates[0]))
    else:
        for template in templates:
            click.echo(f"{template.name:<12} {template.length:>5}  {template.about}")
            click.echo(f"{'':<12} {'':>5}  needs {', '.join(template.needed)}")
        click.echo("segmentkit new TEMPLATE --list explains the blanks of one")
    return 0
