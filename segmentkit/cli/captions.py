"""`segmentkit captions`: captions, chapters, transcript, as-broadcast script."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD


@click.command("captions")
@STORYBOARD
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="The folder; else out/captions.")
@click.option(
    "--rules", "names", multiple=True, help="A set of rules, such as web; else those that the deliveries need."
)
def command(storyboard: Path, out: Path | None, names: tuple[str, ...]) -> int:
    """Write the words of STORYBOARD: WebVTT, SubRip-style, IMSC and EBU-TT-D captions, chapters, transcript, script."""
    from segmentkit.deliver.captions_files import write_captions, write_words  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.plan.captions import captions_by  # noqa: PLC0415
    from segmentkit.render.areas import taken_areas  # noqa: PLC0415

    with progress() as report:
        checked = check(storyboard, progress=report)
    folder = out or storyboard.parent / "out" / "captions"
    stems: set[str] = set()
    for version in checked.versions:
        plan, board, cut = version.plan, version.loaded.board, version.deliveries[0].cut
        stem = f"{storyboard.stem}-{cut}" if cut else storyboard.stem
        if stem in stems:  # the same cut at another rate or size: its captions are written when it is delivered
            continue
        stems.add(stem)
        taken = taken_areas(plan, checked.look, version.facts)
        sets = captions_by(plan, names, board.segment.language, taken) if names else version.captions
        written = [file for made in sets for file in write_captions(folder, stem, plan, board, made)]
        for file in (*written, *write_words(folder, stem, plan, board)):
            click.echo(str(file))
    return 0
