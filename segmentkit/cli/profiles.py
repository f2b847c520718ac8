"""`segmentkit profiles`: what can be delivered."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import show_json
from segmentkit.cli.options import json_output


@click.command("profiles")
@click.argument("storyboard", type=click.Path(path_type=Path, dir_okay=False), required=False)
@json_output
def command(storyboard: Path | None, as_json: bool) -> int:
    """List the profiles that `deliver:` can name, and what each one is; of STORYBOARD those that it delivers."""
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery, delivery_names  # noqa: PLC0415
    from segmentkit.storyboard.reference import picture_text, sound_text, version_text  # noqa: PLC0415

    names = load(storyboard).board.deliver if storyboard is not None else delivery_names()
    found = [delivery(name, storyboard.parent if storyboard is not None else None) for name in names]
    if as_json:
        show_json(
            [
                {
                    "name": one.name, "what": one.what, "scope": one.scope, "loudness_lufs": one.loudness,
                    "true_peak_dbtp": one.true_peak, "version": version_text(one), "picture": picture_text(one.picture),
                    "sound": sound_text(one.sound), "file": one.container,
                }
                for one in found
            ]
        )  # fmt: skip
        return 0
    for one in found:
        click.echo(f"{click.style(one.name, bold=True)}  {one.what}")
        click.echo(f"    {version_text(one)}; releases must allow {one.scope}")
        click.echo(
            f"    .{one.container}: {picture_text(one.picture)}; sound {sound_text(one.sound)}; "
            f"{one.loudness:g} LUFS, at most {one.true_peak:g} dBTP"
        )
    return 0
