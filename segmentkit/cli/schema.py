"""`segmentkit schema`: the storyboard's JSON Schema, and the generated references kept in `templates`."""

from __future__ import annotations

import json

import click


@click.command("schema")
@click.option("--write", is_flag=True, help="Write schema, references and house rules into templates/.")
def command(write: bool) -> int:
    """Print the JSON Schema of the storyboard, for editors that check a file while it is typed."""
    from segmentkit.checks.reference import checks_page, house_rules  # noqa: PLC0415
    from segmentkit.resources import templates_folder  # noqa: PLC0415
    from segmentkit.storyboard.reference import key_reference  # noqa: PLC0415
    from segmentkit.storyboard.schema import json_schema  # noqa: PLC0415
    from segmentkit.storyboard.template_page import PAGE, segments_page  # noqa: PLC0415

    text = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    if not write:
        click.echo(text, nl=False)
        return 0
    folder = templates_folder()
    for name, content in (
        ("storyboard.schema.json", text),
        ("STORYBOARD.md", key_reference()),
        ("CHECKS.md", checks_page()),
        (PAGE, segments_page()),
        ("rules/house.yaml", house_rules()),
    ):
        (folder / name).write_text(content, "utf-8")
        click.echo(str(folder / name))
    return 0
