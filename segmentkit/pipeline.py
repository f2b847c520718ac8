"""OPEN FIRST: one segment from text to files: load, measure, plan, check, render, read back."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.checks.context import CheckContext
from segmentkit.checks.rules import Rules
from segmentkit.checks.run import consent_checks, run_checks
from segmentkit.checks.uses import pictures_used
from segmentkit.deliver.lock import lock_facts
from segmentkit.deliver.manifest import held, write_manifest
from segmentkit.delivery import Delivery
from segmentkit.errors import NotFit
from segmentkit.facts import ClipFacts, Facts, MovieFacts, SceneFacts, TrackFacts
from segmentkit.findings import Finding, Severity, worst_first
from segmentkit.plan.build import build_plan
from segmentkit.plan.caption_cards import burned
from segmentkit.plan.captions import CaptionSet, caption_sets, captions_by
from segmentkit.plan.model import Plan
from segmentkit.plan.needs import picture_needs
from segmentkit.plan.speech import speech_requests
from segmentkit.render.areas import taken_areas
from segmentkit.render.texts import text_facts
from segmentkit.storyboard.caption_rules import rules_for
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.load_look import load_look
from segmentkit.storyboard.look import Look
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.profiles import delivery

Progress = Callable[[str, int, int], None]
"""Told the step, how much of it is done, and how much there is."""


def _quiet(step: str, done: int, of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A storyboard that was measured, planned and judged."""

    loaded: LoadedStoryboard
    facts: Facts
    plan: Plan
    look: Look
    captions: tuple[CaptionSet, ...]
    findings: tuple[Finding, ...]

    @property
    def fits(self) -> bool:
        """Whether nothing forbids a render."""
        return not forbids(self.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """A finished file and how it was judged before it was made."""

    checked: Checked
    delivery: Delivery
    movie: MovieFacts


def check(
    path: Path,
    *,
    final: bool = False,
    today: datetime.date | None = None,
    rules: Rules | None = None,
    slot: int | None = None,
    progress: Progress = _quiet,
) -> Checked:
    """Loads a storyboard, measures what it names, plans it and judges the plan.

    Nothing of a person without a valid release is opened: consent is judged before any clip.

    Args:
        path: the storyboard.
        final: judge it as a final render, in which no guide voice may speak unless the storyboard allows it.
        today: the day on which releases must hold; the real one unless told otherwise.
        rules: severities and limits of the house.
        slot: another length in frames, to answer "what if".
        progress: told what is going on.

    Raises:
        StoryboardUnreadable: with every fault of the text.
        MediaUnusable: when a file cannot be used.
        NotFit: when consent forbids to go on; carries the findings in its text.
    """
    today = today or datetime.date.today()
    loaded = load(path)
    deliveries = tuple(delivery(name) for name in loaded.board.deliver)
    consent = tuple(consent_checks(loaded, deliveries, today, rules))
    if forbids(consent):
        raise NotFit(refusal(consent), consent)
    facts = measure(loaded, progress)
    plan, problems = build_plan(loaded, facts, slot=slot)
    look = load_look(loaded.board.look, loaded.folder)
    captions = caption_sets(plan, deliveries, loaded.board.segment.language, taken_areas(plan, look, facts))
    context = CheckContext(
        loaded=loaded,
        plan=plan,
        facts=facts,
        deliveries=deliveries,
        today=today,
        final=final,
        texts=text_facts(plan, look),
        captions=captions,
        lock=lock_facts(path, loaded, facts),
    )
    findings = worst_first([*problems, *run_checks(context, rules)])
    return Checked(loaded=loaded, facts=facts, plan=plan, look=look, captions=captions, findings=tuple(findings))


def measure(loaded: LoadedStoryboard, progress: Progress = _quiet) -> Facts:
    """Makes working copies of the clips that are shown and finds or makes a reading for every line; quick when warm.

    A clip that no beat shows is not opened: its person's consent was not asked for either.
    """
    # Decoders load only when there is work for them.
    from segmentkit.media.guarded import GuardLimits, guarded_clip  # noqa: PLC0415
    from segmentkit.media.stills import still_facts  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.media.voice import readings  # noqa: PLC0415

    board, folder = loaded.board, loaded.folder
    store = Store.of(folder)
    used_clips, used_stills = pictures_used(board)
    # A clip is a stranger's file, so it is decoded in a process of its own. A programme's own films may be long.
    long_films = GuardLimits(seconds=1800, frames=200_000)
    clips = {}
    for done, id_ in enumerate(sorted(used_clips)):
        progress("clips", done, len(used_clips))
        clips[id_] = guarded_clip(folder / board.clips[id_].file, store, long_films).facts
    stills = {id_: still_facts(folder / board.stills[id_].file) for id_ in sorted(used_stills)}
    takes = folder / board.voice.takes if board.voice.takes else None
    spoken = readings(speech_requests(board), takes, store, progress=lambda done, of: progress("voices", done, of))
    tracks, scenes = _looked_at(board, clips, folder, progress)
    return Facts(clips=clips, stills=stills, readings=spoken, tracks=tracks, scenes=scenes)


def _looked_at(
    board: Storyboard, clips: Mapping[str, ClipFacts], folder: Path, progress: Progress
) -> tuple[dict[str, TrackFacts], dict[str, SceneFacts]]:
    """How backgrounds move, and what moves before them, of the clips for which a plan must know it."""
    from segmentkit.media.background import background_track  # noqa: PLC0415
    from segmentkit.media.scene import scene_facts  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415

    store = Store.of(folder)
    needs = picture_needs(board, clips)
    tracks, scenes = {}, {}
    for done, need in enumerate(needs):
        progress("pictures", done, len(needs))
        clip = clips[need.clip]
        if need.tracked:
            tracks[need.clip] = background_track(
                clip, store, anchor=need.anchor, frames=need.tracked, avoid=(need.player,)
            )
        if need.scene:
            scenes[need.clip] = scene_facts(clip, store, first=need.first, last=need.last)
    return tracks, scenes


def render(
    path: Path,
    out: Path,
    profile: str | None = None,
    *,
    final: bool = True,
    captions: bool = False,
    review: str | None = None,
    encoder: str | None = None,
    today: datetime.date | None = None,
    rules: Rules | None = None,
    progress: Progress = _quiet,
) -> Rendered:
    """Makes the finished segment: checks, makes what is missing, joins, compares, moves the file into place.

    Args:
        path: the storyboard.
        out: the finished file's name.
        profile: what to deliver; the storyboard's first unless told otherwise.
        final: refuse a guide voice that the storyboard does not allow.
        captions: burn the captions into the picture.
        review: text to burn in beside a running timecode; a review copy is never a master.
        encoder: a hardware encoder that works here (see `media.hardware`), instead of the software one.
        today: the day on which releases must hold; the real one unless told otherwise.
        rules: severities and limits of the house.
        progress: told what is going on.

    Raises:
        NotFit: when the check finds errors; nothing is written.
        OutputFailed: when the file cannot be written or does not verify; nothing is left under its name.
    """
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.render.movie import make_movie  # noqa: PLC0415

    checked = check(path, final=final, today=today, rules=rules, progress=progress)
    if not checked.fits:
        raise NotFit(refusal(checked.findings), checked.findings)
    to = delivery(profile or checked.loaded.board.deliver[0])
    to = replace(to, picture=replace(to.picture, encoder=encoder)) if encoder else to
    made = captions_for(checked, to) if captions else None
    plan = burned(checked.plan, made) if made else checked.plan
    store = Store.of(checked.loaded.folder)
    movie = make_movie(plan, checked.facts, checked.look, to, out, store=store, progress=progress, stamp=review)
    inside = {**({"captions": made.name} if made else {}), **({"review": review} if review else {})}
    write_manifest(out, checked.plan, movie, checked.findings, inside, held(checked.loaded, checked.facts))
    return Rendered(checked=checked, delivery=to, movie=movie)


def captions_for(checked: Checked, to: Delivery) -> CaptionSet:
    """The captions by the rules that suit a delivery."""
    name = rules_for(to.scope, checked.plan.size)
    taken = taken_areas(checked.plan, checked.look, checked.facts)
    ready = next((made for made in checked.captions if made.name == name), None)
    return ready or captions_by(checked.plan, [name], checked.loaded.board.segment.language, taken)[0]


def forbids(findings: tuple[Finding, ...]) -> bool:
    """Whether any of the findings stops a render."""
    return any(finding.severity is Severity.ERROR for finding in findings)


def refusal(findings: tuple[Finding, ...]) -> str:
    """Why nothing was rendered, one line an error."""
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    lines = [f"{f.place or ''}: {f.where}: {f.what} — {f.remedy} [{f.id}]" for f in errors]
    return "\n".join([f"nothing was rendered: {len(errors)} error(s)", *lines])


def save_still(checked: Checked, frame: int, out: Path) -> None:
    """Saves the picture of one frame as a PNG, exactly as it would go to the encoder."""
    from segmentkit.media.stills import write_png  # noqa: PLC0415
    from segmentkit.render.picture import Composer  # noqa: PLC0415

    out.parent.mkdir(parents=True, exist_ok=True)
    with Composer(checked.plan, checked.facts, checked.look) as composer:
        write_png(out, composer.still(frame))
