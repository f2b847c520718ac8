"""One part of a submission from file to verdict. A file that breaks costs itself and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Rect, Size
from segmentkit.intake.fingerprint import Fingerprint, likeness
from segmentkit.intake.measures import measures_of
from segmentkit.intake.picture import edge_width, light_of
from segmentkit.intake.survey import Proposal, jpeg, survey
from segmentkit.intake.verdict import PartReport, Reason, ordered, side_reason, swing_reasons, worst
from segmentkit.media.frames import ClipReader
from segmentkit.media.guarded import GuardedClip, GuardLimits, guarded_clip, guarded_still
from segmentkit.media.stills import Rgb, load_still, planes_to_rgb, rgb_to_planes
from segmentkit.media.store import Store
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.submission import Part, VerdictWord
from segmentkit.timebase import SourceFrame, Timecode

STILLS = {".png", ".jpg", ".jpeg", ".heic", ".heif", ".webp"}


@dataclass(slots=True)
class Seen:
    """What is kept of the clips so far, to find one again."""

    contents: dict[str, str] = field(default_factory=dict)
    prints: list[tuple[str, Fingerprint]] = field(default_factory=list)


def judge_part(
    name: str, called: str, part: Part | None, path: Path, person: Person | None, store: Store, limits: IntakeLimits,
    seen: Seen,
) -> PartReport:  # fmt: skip
    """Measures and judges one file; whatever is wrong with it becomes a reason.

    Raises:
        OutputFailed: when the working folder cannot be written to.
    """
    try:
        content = store.content_of(path)
        if (earlier := seen.contents.get(content)) is not None:
            return _refused(name, content, Reason(
                id="same-file", word=VerdictWord.NOT_USED, what=f"is the same file as {earlier}",
            ))  # fmt: skip
        seen.contents[content] = called
        guard = guard_limits(limits)
        if path.suffix.lower() in STILLS:
            return _still(name, content, guarded_still(path, store, guard), limits)
        clip = guarded_clip(path, store, guard)
        if name in {"grip", "portrait"}:
            return _close_up(name, content, clip, limits)
        return _swing(name, called, part, clip, person, limits, seen)
    except (MediaUnusable, OSError) as error:
        # The path may hold a name that must not be written anywhere; the part is named instead.
        text = str(error).replace(str(path.absolute()), "the file").replace(str(path), "the file")
        text = text.removeprefix("the file — ").replace(path.name, "the file")
        return _refused(name, "", Reason(id="unreadable", word=VerdictWord.RESHOOT, what=text))


def guard_limits(limits: IntakeLimits) -> GuardLimits:
    """What opening one strange file may cost, from the limits file."""
    return GuardLimits(
        pixels=round(limits.megapixels_most * 1e6), frames=round(limits.frames_most),
        seconds=round(4 * limits.seconds_most), size=round(limits.megabytes_most * 1e6),
        memory=round(limits.memory_most * 1e6),
    )  # fmt: skip


def _refused(name: str, content: str, reason: Reason) -> PartReport:
    return PartReport(
        part=name, word=reason.word, reasons=(reason,), notes=(), measures=(), proposals=(), thumbs={}, content=content
    )


def _swing(
    name: str, called: str, part: Part | None, clip: GuardedClip, person: Person | None, limits: IntakeLimits,
    seen: Seen,
) -> PartReport:  # fmt: skip
    captured = part.captured.fps if part is not None and part.captured is not None else None
    found = survey(
        clip,
        captured=captured,
        swing=part.swing if part else None,
        distance=limits.distance,
        least_rate=limits.rate_impact,
    )
    reasons = list(swing_reasons(found, clip.header, limits))
    if part is not None and part.swing is not None:
        reasons = [reason for reason in reasons if reason.id != "several-swings"]
    side = side_reason(found, name, person.handed if person is not None else None, part)
    if side is not None and (part is None or part.mirrored is None):
        reasons.append(side)
    for earlier, fingerprint in seen.prints:
        alike = likeness(fingerprint, found.fingerprint)
        if alike.same:
            how = ", mirrored" if alike.mirrored else ""
            reasons.append(Reason(
                id="same-pictures", word=VerdictWord.NOT_USED,
                what=f"shows the same pictures as {earlier}{how}: they differ by {alike.difference or 0:.2f}"
                f" and keep in step within {1000 * (alike.step or 0):.0f} ms",
                numbers=(("difference", round(alike.difference or 0, 3)),),
            ))  # fmt: skip
            break
    seen.prints.append((called, found.fingerprint))
    return PartReport(
        part=name, word=worst([reason.word for reason in reasons]), reasons=ordered(reasons),
        notes=_notes(clip), measures=measures_of(found, clip.header),
        proposals=chosen_over(found.proposals, part, clip), thumbs=found.thumbs, content=clip.facts.content,
    )  # fmt: skip


def _notes(clip: GuardedClip) -> tuple[str, ...]:
    notes = list(clip.facts.notes)
    if clip.header.personal:
        kinds = ", ".join(clip.header.personal)
        notes.append(f"The file carries data about {kinds}; none of it is passed on.")
    return tuple(notes)


def chosen_over(proposals: tuple[Proposal, ...], part: Part | None, clip: GuardedClip) -> tuple[Proposal, ...]:
    """Proposals with what a person has chosen in their place; a choice is never moved."""
    if part is None or not part.positions:
        return proposals
    made = {proposal.position: proposal for proposal in proposals}
    times = clip.facts.times
    for position, moment in part.positions.items():
        if isinstance(moment, SourceFrame):
            frame = min(moment.index, len(times) - 1)
        elif isinstance(moment, Timecode):
            continue  # a label needs a rate that a viewer's clip does not have
        else:
            frame = min(range(len(times)), key=lambda k: abs(times[k] - moment.value))
        made[position] = Proposal(
            position=position, frame=frame, second=times[frame], trust="good", why="chosen by a person", chosen=True
        )
    return tuple(sorted(made.values(), key=lambda proposal: proposal.frame))


def _close_up(name: str, content: str, clip: GuardedClip, limits: IntakeLimits) -> PartReport:
    """A clip of hands or a face: size, light and sharpness of its middle picture."""
    with ClipReader(clip.facts) as reader:
        planes = reader.planes(clip.facts.frames // 2)
        return _picture(name, content, planes_to_rgb(planes), limits, _notes(clip))


def _still(name: str, content: str, clean: Path, limits: IntakeLimits) -> PartReport:

    return _picture(name, content, planes_to_rgb(load_still(clean)[1]), limits, ())


def _picture(
    name: str, content: str, rgb: Rgb, limits: IntakeLimits, notes: tuple[str, ...]
) -> PartReport:  # fmt: skip

    luma = rgb_to_planes(rgb).y
    size = Size(luma.shape[1], luma.shape[0])
    light, edges = light_of(luma, Rect(0.1, 0.1, 0.8, 0.8)), edge_width(luma)
    reasons = []
    if name not in {"grip", "portrait"}:
        reasons.append(Reason(
            id="still-not-clip", word=VerdictWord.RESHOOT, what="is a still picture — a swing is sent as a clip",
        ))  # fmt: skip
    if min(size.width, size.height) < limits.short_side_least:
        reasons.append(Reason(
            id="too-small", word=VerdictWord.RESHOOT,
            what=f"is {size} — the shorter side needs {limits.short_side_least:g} pixels",
        ))  # fmt: skip
    if light.middle < limits.dark_least:
        reasons.append(Reason(
            id="too-dark", word=VerdictWord.RESHOOT,
            what=f"its middle brightness is {light.middle:.0f} of 235 — {limits.dark_least:g} are needed",
        ))  # fmt: skip
    if edges is not None and 100 * edges > 2 * limits.edge_most:
        reasons.append(Reason(
            id="out-of-focus", word=VerdictWord.RESHOOT,
            what=f"sharp edges are {100 * edges:.1f} % of the height wide — at most {2 * limits.edge_most:g} %",
        ))  # fmt: skip
    return PartReport(
        part=name, word=worst([reason.word for reason in reasons]), reasons=ordered(reasons), notes=notes, measures=(),
        proposals=(), thumbs={"picture": jpeg(rgb)}, content=content,
    )  # fmt: skip
