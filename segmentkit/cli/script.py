"""`segmentkit script`: the two-column script, its words as plain text, and those words read back."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, version_option, version_read, warn_of_shared
from segmentkit.errors import OutputFailed


@click.command("script")
@STORYBOARD
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False),
    help="The file, .html, .pdf or .txt (words alone); else out/<name>-script.html.",
)  # fmt: skip
@click.option(
    "--read", "words", type=click.Path(path_type=Path, dir_okay=False),
    help="Put the words of an edited .txt back into the storyboard; nothing else changes.",
)  # fmt: skip
@version_option
def command(storyboard: Path, out: Path | None, words: Path | None, profile: str | None) -> int:
    """Write the script of STORYBOARD: pictures beside words, with the running clock and what is still to go.

    With --profile it is that of another version, such as a cut; --read then puts its words where they are written.
    """
    if words is not None:
        if out is not None:
            raise click.UsageError("--read changes the storyboard and -o writes a file — give one of them")
        return _read(storyboard, words, profile)
    stem = f"{storyboard.stem}-{Path(profile).stem}" if profile else storyboard.stem
    target = out or storyboard.parent / "out" / f"{stem}-script.html"
    _write(storyboard, target, profile)
    click.echo(str(target))
    return 0


def _write(storyboard: Path, out: Path, profile: str | None) -> None:
    from segmentkit.media.safe import writing  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415

    kind = out.suffix.lower()
    if kind not in {".html", ".htm", ".pdf", ".txt"}:
        raise OutputFailed(
            f"{out} — a script is not written as {kind or 'a file without ending'} — .html, .pdf and .txt are — "
            "give the file one of these endings"
        )
    if kind == ".txt":
        from segmentkit.deliver.script_text import words_text  # noqa: PLC0415
        from segmentkit.storyboard.load import load  # noqa: PLC0415

        content = words_text(version_read(load(storyboard), profile)).encode()
    else:
        with progress() as report:
            checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
        if kind == ".pdf":
            from segmentkit.deliver.script_pdf import script_pdf  # noqa: PLC0415

            content = script_pdf(checked.plan, checked.loaded.board, out)
        else:
            from segmentkit.deliver.script_html import script_page  # noqa: PLC0415

            content = script_page(checked.plan, checked.loaded.board).encode()
    with writing(out) as partial:
        partial.write_bytes(content)


def _read(storyboard: Path, words: Path, profile: str | None) -> int:
    from segmentkit.deliver.script_read import read_words  # noqa: PLC0415
    from segmentkit.media.safe import writing  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.reading import read_text  # noqa: PLC0415

    loaded = version_read(load(storyboard), profile)
    edited = read_words(loaded, read_text(words), str(words))
    if not edited.changes:
        click.echo(f"{storyboard}: no word has changed")
        return 0
    with writing(storyboard) as partial:
        partial.write_bytes(edited.text.encode())
    for change in edited.changes:
        click.echo(click.style(f"beat {change.beat}, {change.speaker}", bold=True))
        click.echo(click.style(f"  - {change.was}", fg="red"))
        click.echo(click.style(f"  + {change.now}", fg="green"))
    beats = ", ".join(dict.fromkeys(change.beat for change in edited.changes))
    click.echo(f"{storyboard}: {len(edited.changes)} line(s) changed; takes of {beats} have to be read again")
    warn_of_shared((change.beat for change in edited.changes if change.shared), profile)
    return 0
