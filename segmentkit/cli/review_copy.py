"""`segmentkit review copy`: what a delivery will show, to be looked at; and what is burned into such copies."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import counted, progress, show_findings, show_refusal
from segmentkit.cli.options import STORYBOARD, day, house_rules, read_day, rules_file
from segmentkit.errors import NotFit
from segmentkit.timebase import Rate, label_of_frame


@click.command("copy")
@STORYBOARD
@click.option("--profile", help="The delivery to look at, such as short or broadcast; else the storyboard's first.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The file; else out/<name>-review.mp4."
)
@click.option("--rehearsal", is_flag=True, help="Let a guide voice stand in for what is not recorded.")
@rules_file
@day
def copy(
    storyboard: Path, profile: str | None, out: Path | None, rehearsal: bool, rules: Path | None, today: str | None
) -> int:
    """Make a review copy of any delivery of STORYBOARD: version and running timecode burned in.

    It has the cut, size, rate, captions and loudness of that delivery. It is coded for the web whatever the delivery
    is, without leader, and never a master; the delivery's releases must allow it.
    """
    from segmentkit.pipeline import Making, check, make, refusal  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415
    from segmentkit.versions import review_copy  # noqa: PLC0415

    loaded = load(storyboard)
    first = loaded.board.deliver[0]
    wanted = profile or first
    to = review_copy(delivery(wanted, loaded.folder), loaded)
    name = f"{storyboard.stem}-{to.name}" if profile not in {None, first} else storyboard.stem
    target = out or storyboard.parent / "out" / f"{name}-review{to.suffix}"
    how = Making(review=review_stamp(storyboard), today=read_day(today), rehearsal=rehearsal)
    try:
        with progress() as report:
            checked = check(
                storyboard, final=not rehearsal, today=how.today, rules=house_rules(rules), deliver=[wanted],
                progress=report,
            )  # fmt: skip
            if not checked.fits:
                raise NotFit(refusal(checked.findings), checked.findings)
            made = make(checked, to, storyboard, target, how, report)
    except NotFit as refused:
        return show_refusal(refused, "rendered", as_json=False)
    show_findings(checked.findings)
    movie, rate = made.movie, Rate(made.movie.rate)
    click.echo(
        f"{movie.path}: {how.review}; {wanted}, {label_of_frame(movie.running, rate)}, {movie.size} at {rate};"
        f" {counted(checked.findings)}"
    )
    return 0


def review_profile(storyboard: Path, profile: str | None) -> str:
    """The profile of a review copy: the one asked for, else the storyboard's first that is no master."""
    from segmentkit.storyboard.load import load  # noqa: PLC0415
    from segmentkit.storyboard.people import Scope  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    names = load(storyboard).board.deliver
    wanted = [profile] if profile else list(names)
    found = next((name for name in wanted if delivery(name, storyboard.parent).scope != Scope.BROADCAST.value), None)
    if found is None:
        raise click.UsageError(
            f"a review copy is never a master: {', '.join(wanted)} is for broadcast — give another --profile, or"
            " make a copy of it with `segmentkit review copy`"
        )
    return found


def review_stamp(storyboard: Path) -> str:
    """What is burned into a review copy: the version it is, or the one it comes after."""
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.review_versions import versions  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415

    known = versions(storyboard)
    if not known:
        return "REVIEW, no version"
    last = known[-1]
    same = last.data["inputs"]["storyboard"] == locks.text_hash(load(storyboard))
    return f"REVIEW, {'' if same else 'after '}version {last.number}"
