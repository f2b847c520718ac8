"""`segmentkit render`: make the finished segment."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import counted, progress, show_findings, show_json, show_refusal
from segmentkit.cli.options import (
    STORYBOARD,
    day,
    house_rules,
    json_output,
    override_options,
    read_day,
    read_override,
    rules_file,
)
from segmentkit.errors import NotFit
from segmentkit.timebase import Rate, label_of_frame


@click.command("render")
@STORYBOARD
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False),
    help="The finished file; else out/<name> with the profile's suffix.",
)  # fmt: skip
@click.option("--profile", help="What to deliver, such as web or broadcast; else the storyboard's first.")
@click.option(
    "--rehearsal", is_flag=True, help="Let a guide voice stand in for what is not recorded; it is marked on screen."
)
@click.option(
    "--captions", type=click.Choice(["none", "burned"]), default="none", help="Burn captions into the picture."
)
@click.option("--review", is_flag=True, help="A review copy: version and running timecode burned in; never a master.")
@click.option(
    "--encoder", type=click.Choice(("h264_nvenc", "h264_qsv", "h264_amf", "h264_videotoolbox")),
    help="An encoder in graphics hardware, if it works here; faster, larger files, other bytes on other devices.",
)  # fmt: skip
@override_options
@rules_file
@day
@json_output
def command(
    storyboard: Path,
    out: Path | None,
    profile: str | None,
    rehearsal: bool,
    captions: str,
    review: bool,
    encoder: str | None,
    override_by: str | None,
    because: str | None,
    rules: Path | None,
    today: str | None,
    as_json: bool,
) -> int:
    """Make the finished segment of STORYBOARD: checked, rendered, read back, moved into place."""
    from segmentkit.cli.review_copy import review_profile, review_stamp  # noqa: PLC0415
    from segmentkit.pipeline import render  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    stamp = None
    if review:
        profile = review_profile(storyboard, profile)
        stamp = review_stamp(storyboard)
    first = load(storyboard).board.deliver[0]
    to = delivery(profile or first, storyboard.parent)
    name = f"{storyboard.stem}-{to.name}" if profile not in {None, first} else storyboard.stem
    target = out or storyboard.parent / "out" / f"{name}{'-review' if review else ''}{to.suffix}"
    try:
        with progress(quiet=as_json) as report:
            made = render(
                storyboard,
                target,
                profile,
                final=not rehearsal,
                captions=captions == "burned",
                review=stamp,
                encoder=_usable(encoder),
                today=read_day(today),
                rules=house_rules(rules),
                override=read_override(override_by, because, today),
                progress=report,
            )
    except NotFit as refused:
        return show_refusal(refused, "rendered", as_json=as_json)
    movie, rate = made.movie, Rate(made.movie.rate)
    if as_json:
        show_json(
            {
                "file": str(movie.path),
                "frames": movie.running,
                "rate": str(rate),
                "samples": movie.samples,
                "loudness_lufs": movie.loudness.integrated,
                "true_peak_dbtp": movie.loudness.true_peak,
                "findings": [finding.as_data() for finding in made.checked.findings],
            }
        )
        return 0
    show_findings(made.checked.findings)
    click.echo(
        f"{movie.path}: {label_of_frame(movie.running, rate)}, {movie.running} frames at {rate}, "
        f"{movie.size}, {movie.video_codec}, {movie.loudness.integrated:.1f} LUFS, "
        f"true peak {movie.loudness.true_peak:.1f} dBTP; {counted(made.checked.findings)}"
    )
    return 0


def _usable(encoder: str | None) -> str | None:
    """The hardware encoder that was asked for, if it can encode a picture here; else one line says why not."""
    if encoder is None:
        return None
    from segmentkit.media.hardware import unusable  # noqa: PLC0415

    reason = unusable(encoder)
    if reason is None:
        return encoder
    click.echo(f"{encoder} — does not work here ({reason}) — the software encoder is used", err=True)
    return None
