"""`segmentkit qc`: measure and judge a finished file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import progress, show_json
from segmentkit.cli.options import json_output
from segmentkit.findings import Severity

if TYPE_CHECKING:
    from segmentkit.checks.qc_check import Verdict
    from segmentkit.pipeline import Progress
    from segmentkit.quality import Examined

_COLOURS = {"pass": "green", "warn": "yellow", "fail": "red", "not checked": "cyan"}


@click.command("qc")
@click.argument("movie", type=click.Path(path_type=Path, dir_okay=False))
@click.argument("storyboard", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option("--profile", help="The delivery profile it must keep; else the storyboard's first.")
@click.option("--captions", is_flag=True, help="Require a caption file beside the movie.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The page; else <movie>.qc.html beside it."
)
@json_output
def command(
    movie: Path, storyboard: Path | None, profile: str | None, captions: bool, out: Path | None, as_json: bool
) -> int:
    """Measure and judge the finished file MOVIE, against STORYBOARD when it is given.

    The file is decoded once, from start to end: length, black, freezes, single wrong frames, flashes, legal levels,
    loudness, true peak, silence, sync, channels, headers, captions, texts. A page with a picture and the sound at each
    flag is written, and the same as data beside it. What cannot be checked is said, with the reason.
    """
    from segmentkit.checks.qc import findings_of, overall  # noqa: PLC0415
    from segmentkit.checks.qc_check import Outcome  # noqa: PLC0415
    from segmentkit.deliver.qc_data import qc_data  # noqa: PLC0415
    from segmentkit.quality import report  # noqa: PLC0415

    with progress(quiet=as_json) as told:
        examined, title = _examined(movie, storyboard, profile, captions, told)
        page, _ = report(out or movie.with_name(f"{movie.stem}.qc.html"), title, examined)
    worst = overall(examined.verdicts)
    if as_json:
        show_json(qc_data(examined.measured, examined.verdicts))
    else:
        for verdict in examined.verdicts:
            _show(verdict)
        errors = sum(one.severity is Severity.ERROR for one in findings_of(examined.verdicts))
        told_errors = f", {errors} error{'s' if errors > 1 else ''}" if errors else ""
        click.echo(f"{movie}: {worst.value}{told_errors}; {page}")
    return 1 if worst is Outcome.FAIL else 0


def _show(verdict: Verdict) -> None:
    outcome = click.style(f"{verdict.outcome.value:<11}", fg=_COLOURS[verdict.outcome.value], bold=True)
    because = f" (not judged, because {verdict.because})" if verdict.because else ""
    click.echo(f"{outcome} {verdict.check.title}: {verdict.value or 'nothing measured'}{because}")
    for flag in verdict.flags[:5]:
        click.echo(
            f"            {flag.finding.where}: {flag.finding.what}  {click.style(f'[{verdict.check.id}]', dim=True)}"
        )
    if len(verdict.flags) > 5:
        click.echo(f"            and {len(verdict.flags) - 5} more")


def _examined(
    movie: Path, storyboard: Path | None, profile: str | None, captions: bool, told: Progress
) -> tuple[Examined, str]:
    """The file, measured and judged, and what to call it."""
    from segmentkit.checks.qc_wanted import Wanted  # noqa: PLC0415
    from segmentkit.media.container import admit  # noqa: PLC0415
    from segmentkit.quality import examine, private_words  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    admit(movie)
    if storyboard is not None:
        return _against(movie, storyboard, profile, captions, told)
    wanted = Wanted(delivery=delivery(profile) if profile else None, captions=captions or None, private=private_words())
    return examine(movie, wanted, told=lambda done, of: told("decoding", done, of)), movie.name


def _against(
    movie: Path, storyboard: Path, profile: str | None, captions: bool, told: Progress
) -> tuple[Examined, str]:
    from segmentkit.pipeline import captions_for, check, shown  # noqa: PLC0415
    from segmentkit.quality import examine, planned_sound, programme_of, wanted_of  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    name = profile or load(storyboard).board.deliver[0]
    checked = check(storyboard, deliver=[name], progress=told)
    to = delivery(name, checked.loaded.folder)
    version = checked.version(to) or checked.versions[0]
    made = captions_for(version, checked.look, to) if version.plan.speech else None
    plan = version.plan  # its sound and length are those of a clean version too
    wanted = wanted_of(
        shown(version, checked.look, to), checked.look, to, board=checked.loaded.board,
        captions=(*version.captions, *((made,) if made else ())),
        sidecars=captions or None,
    )  # fmt: skip
    told("mixing", 0, 1)
    sound = planned_sound(plan, version.facts) if to.sound is not None else None
    examined = examine(
        movie, wanted, reference=sound, programme=programme_of(checked.loaded.board, plan, to),
        told=lambda done, of: told("decoding", done, of),
    )  # fmt: skip
    return examined, plan.title
