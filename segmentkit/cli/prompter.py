"""`segmentkit prompter`: the words, large, for whoever speaks them."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, version_option
from segmentkit.errors import OutputFailed


@click.command("prompter")
@STORYBOARD
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False),
    help="The file, .html or .txt; else out/<name>-prompter.html.",
)  # fmt: skip
@click.option(
    "--speaker", metavar="NAME", help="One speaker's page: their lines large, the others' last words as cues."
)
@version_option
def command(storyboard: Path, out: Path | None, speaker: str | None, profile: str | None) -> int:
    """Write the words of STORYBOARD to be read from: large, with pauses as planned and how hard names are said."""
    from segmentkit.deliver.prompter import prompt_lines, prompter_page, prompter_text  # noqa: PLC0415
    from segmentkit.media.safe import writing  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415

    target = out or storyboard.parent / "out" / f"{storyboard.stem}-prompter{f'-{speaker}' if speaker else ''}.html"
    if target.suffix.lower() not in {".html", ".htm", ".txt"}:
        raise OutputFailed(
            f"{target} — a prompter text is written as .html or .txt — give the file one of these endings"
        )
    with progress() as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
    plan, board = checked.plan, checked.loaded.board
    speakers = dict.fromkeys(line.speaker for line in plan.speech)
    if speaker is not None and speaker not in speakers:
        raise click.BadParameter(
            f"{speaker!r} says nothing here — {', '.join(speakers) or 'nobody'} does", param_hint="--speaker"
        )
    lines = prompt_lines(plan, board, speaker)
    text = target.suffix.lower() == ".txt"
    content = prompter_text(lines, plan.title) if text else prompter_page(lines, plan.title, board.segment.language)
    with writing(target) as partial:
        partial.write_text(content, "utf-8")
    click.echo(str(target))
    return 0
