"""`segmentkit faults`: the fault presets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import show_json
from segmentkit.cli.options import json_output
from segmentkit.errors import OutputFailed

if TYPE_CHECKING:
    from segmentkit.storyboard.presets import Preset


@click.command("faults")
@click.argument("name", required=False)
@click.option(
    "--folder", type=click.Path(path_type=Path, file_okay=False), default=Path(),
    help="The storyboard's folder, whose own presets come first.",
)  # fmt: skip
@click.option("--copy", is_flag=True, help="Copy the preset into the folder `faults`, to be changed there.")
@json_output
def command(name: str | None, folder: Path, copy: bool, as_json: bool) -> int:
    """List the fault presets, or explain the one called NAME.

    A beat with `fault: NAME` gets the preset's strokes on its frozen pictures, in a comparison on each side from its
    own points (what shows the fault on all sides but the last, which is the model's). A stroke of the same name in the
    beat takes its place.
    """
    from segmentkit.storyboard.presets import load_preset, preset_names  # noqa: PLC0415

    if name is None:
        presets = {one: load_preset(one, folder) for one in preset_names(folder)}
        if as_json:
            show_json({one: _data(preset) for one, preset in presets.items()})
        else:
            for one, preset in presets.items():
                click.echo(f"{one:<20} {_views(preset):<15} {', '.join(preset.strokes)}\n{'':<20} {preset.what}")
        return 0
    preset = load_preset(name, folder)
    if copy:
        click.echo(str(_copied(name, folder)))
    elif as_json:
        show_json(_data(preset))
    else:
        click.echo(explained(name, preset))
    return 0


def _views(preset: Preset) -> str:
    return ", ".join(view.value for view in preset.view)


def _copied(name: str, folder: Path) -> Path:
    from segmentkit.storyboard.presets import FOLDER, preset_file  # noqa: PLC0415

    source, target = preset_file(name, folder), folder / FOLDER / f"{name}.yaml"
    if source is None or target.exists():
        raise OutputFailed(f"{target} — is there already — change it there, or move it away first")
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(source.read_bytes())
    return target


def explained(name: str, preset: Preset) -> str:
    """All that a preset says, for a person."""
    points = [
        f"  {position}.{point} — {how}" for position, named in preset.points.items() for point, how in named.items()
    ]
    strokes = [
        f"  {id_} — {stroke.kind.replace('_', ' ')}, {stroke.role.value}, on a freeze at {position}"
        for position, drawn in preset.strokes.items()
        for id_, stroke in drawn.items()
    ]
    drill = preset.drill
    lines = (drill.name, drill.count, drill.equipment, drill.safety, drill.line)
    parts = [
        f"{name}: {preset.name}",
        preset.what,
        f"View: {_views(preset)}; the camera at most {preset.yaw:g} degrees aside",
        "\n".join(["Points that the clip must have:", *points]),
        "\n".join(["Strokes, each started by its [name] in the words:", *strokes]),
        "\n".join(["You may say:", *(f"  {text}" for text in preset.say)]),
        "\n".join(["Not to be concluded from this picture:", *(f"  {text}" for text in preset.not_to_say)]),
        f"Feel: {preset.feel}",
        "Drill: " + " · ".join(line for line in lines if line),
    ]
    return "\n\n".join([*parts, f"Note: {preset.note}"] if preset.note else parts)


def _data(preset: Preset) -> dict[str, object]:
    return {
        "name": preset.name,
        "what": preset.what,
        "view": [view.value for view in preset.view],
        "yaw": preset.yaw,
        "points": {position: dict(named) for position, named in preset.points.items()},
        "strokes": {
            position: {id_: {"kind": stroke.kind, "role": stroke.role.value} for id_, stroke in drawn.items()}
            for position, drawn in preset.strokes.items()
        },
        "say": list(preset.say),
        "not_to_say": list(preset.not_to_say),
        "feel": preset.feel,
        "drill": {key: value for key, value in preset.drill.model_dump().items() if value},
        "note": preset.note,
    }
