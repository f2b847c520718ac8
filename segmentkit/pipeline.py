"""OPEN FIRST: one segment from text to files: load, measure, plan, check, render, read back.

What `deliver` names may be several versions of the segment; `versions` says which, measures, plans and judges each.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.checks.rules import Rules
from segmentkit.deliver.manifest import held, write_manifest
from segmentkit.delivery import Delivery
from segmentkit.errors import NotFit
from segmentkit.facts import Facts, MovieFacts
from segmentkit.findings import Finding, Severity
from segmentkit.measure import Progress, unused_takes
from segmentkit.plan.caption_cards import burned
from segmentkit.plan.captions import CaptionSet, captions_by, rules_of
from segmentkit.plan.clean import emptied
from segmentkit.plan.model import Plan
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.load_look import load_look
from segmentkit.storyboard.look import Look
from segmentkit.storyboard.profiles import delivery
from segmentkit.versions import Asked, Refused, Version, allowed, forbids, judged, planned, told, versions_wanted

if TYPE_CHECKING:
    from segmentkit.deliver.qc_data import Override
    from segmentkit.render.picture import Composer

__all__ = ["Checked", "Making", "Planned", "Progress", "Rendered", "captions_for", "check", "forbids", "judge",
           "look_at", "make", "refusal", "render", "save_picture", "save_still", "shown", "stills_of"]  # fmt: skip


def _quiet(step: str, done: int, of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A storyboard that was measured, planned and judged in every version that is delivered.

    Attributes:
        loaded: the first version, as are facts, plan and captions.
        look: how it is drawn.
        findings: of all versions.
        versions: each version that may be rendered as far as releases go.
        refused: the deliveries that a release does not allow.
    """

    loaded: LoadedStoryboard
    facts: Facts
    plan: Plan
    look: Look
    captions: tuple[CaptionSet, ...]
    findings: tuple[Finding, ...]
    versions: tuple[Version, ...] = ()
    refused: tuple[Refused, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether nothing forbids a render."""
        return not forbids(self.findings)

    def version(self, to: Delivery) -> Version | None:
        """The version that a delivery holds; None when it was refused."""
        return next((one for one in self.versions if any(own.name == to.name for own in one.deliveries)), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A storyboard that was measured and planned in every version that is delivered, and not judged yet.

    Attributes:
        asked: how it is to be judged.
        versions: without captions; their findings are those of planning alone.
        refused: the deliveries that a release does not allow.
    """

    asked: Asked
    versions: tuple[Version, ...]
    refused: tuple[Refused, ...]

    @property
    def look(self) -> Look:
        """How it is drawn."""
        return self.asked.look

    @property
    def loaded(self) -> LoadedStoryboard:
        """The first version, as are facts and plan."""
        return self.versions[0].loaded

    @property
    def facts(self) -> Facts:
        """What was measured for it."""
        return self.versions[0].facts

    @property
    def plan(self) -> Plan:
        """What is seen and heard in it."""
        return self.versions[0].plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """A finished file, how it was judged before it was made, and what was written beside it."""

    checked: Checked
    delivery: Delivery
    movie: MovieFacts
    beside: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How a file is made, beside what its profile says.

    Attributes:
        captions: burn the captions in, whatever the profile says.
        review: text to burn in beside a running timecode; a review copy is never a master.
        encoder: a hardware encoder that works here (see `media.hardware`), instead of the software one.
        today: the day that a slate shows.
        rehearsal: whether it is no delivery, so that quality control has nothing to say.
        sidecars: whether captions must lie beside it; None where nobody said so.
        override: who hands it over although quality control fails, and why.
    """

    captions: bool = False
    review: str | None = None
    encoder: str | None = None
    today: datetime.date | None = None
    rehearsal: bool = False
    sidecars: bool | None = None
    override: Override | None = None


def check(
    path: Path,
    *,
    final: bool = False,
    today: datetime.date | None = None,
    rules: Rules | None = None,
    slot: int | None = None,
    deliver: Sequence[str] | None = None,
    captions: bool = False,
    progress: Progress = _quiet,
) -> Checked:
    """Loads a storyboard, measures what it names, plans every version that is delivered and judges the plans.

    Args:
        path: the storyboard.
        final: judge it as a final render, in which no guide voice may speak unless the storyboard allows it.
        today: the day on which releases must hold; the real one unless told otherwise.
        rules: severities and limits of the house.
        slot: another length of the first version in frames, to answer "what if".
        deliver: what is delivered, instead of what the storyboard says; a season decides that for each item.
        captions: judge it with its captions in the picture, whatever the profiles say.
        progress: told what is going on.

    Raises:
        StoryboardUnreadable: with every fault of the text.
        MediaUnusable: when a file cannot be used.
        NotFit: when consent forbids every delivery; carries the findings in its text.
    """
    return judge(
        look_at(
            path, final=final, today=today, rules=rules, slot=slot, deliver=deliver, captions=captions,
            progress=progress,
        )
    )  # fmt: skip


def look_at(
    path: Path,
    *,
    final: bool = False,
    today: datetime.date | None = None,
    rules: Rules | None = None,
    slot: int | None = None,
    deliver: Sequence[str] | None = None,
    captions: bool = False,
    progress: Progress = _quiet,
) -> Planned:
    """All of `check` but the judging: enough for a picture, and soon there.

    Nothing of a person without a valid release is opened: consent is judged before any clip, delivery by delivery.
    Arguments and errors are those of `check`.
    """
    today = today or datetime.date.today()
    loaded = load(path)
    deliveries = [delivery(name, loaded.folder) for name in deliver or loaded.board.deliver]
    deliveries = [replace(to, burned=to.burned or captions) for to in deliveries]
    open_, refused = allowed(versions_wanted(loaded, deliveries), today, rules)
    if not open_:
        consent = told((), refused)
        raise NotFit(refusal(consent), consent)
    look = load_look(loaded.board.look, loaded.folder)
    unused = unused_takes(loaded)
    asked = Asked(path=path, look=look, today=today, final=final, rules=rules, slot=slot, unused=unused)
    return Planned(asked=asked, versions=planned(open_, asked, progress), refused=refused)


def judge(looked: Planned) -> Checked:
    """Makes the captions of a planned storyboard and judges all its versions."""
    look, refused = looked.asked.look, looked.refused
    versions = judged(looked.versions, looked.asked)
    first = versions[0]
    return Checked(
        loaded=first.loaded,
        facts=first.facts,
        plan=first.plan,
        look=look,
        captions=first.captions,
        findings=told(versions, refused),
        versions=versions,
        refused=refused,
    )


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
    deliver: Sequence[str] | None = None,
    override: Override | None = None,
    progress: Progress = _quiet,
) -> Rendered:
    """Makes one finished file: checks its version, makes what is missing, joins, compares, moves the file into place.

    Args:
        path: the storyboard.
        out: the finished file's name.
        profile: what to deliver; the first of all that is delivered unless told otherwise.
        final: refuse a guide voice that the storyboard does not allow.
        captions: burn the captions into the picture, whatever the profile says.
        review: as in `Making`, and so is `encoder`.
        encoder: a hardware encoder that works here.
        today: the day on which releases must hold; the real one unless told otherwise.
        rules: severities and limits of the house.
        deliver: all that is delivered, as in `check`.
        override: who hands it over although quality control fails, and why.
        progress: told what is going on.

    Raises:
        NotFit: when the check finds errors; nothing is written. When quality control fails; the file has another name.
        OutputFailed: when the file cannot be written or does not verify; nothing is left under its name.
    """
    name = profile or (deliver or load(path).board.deliver)[0]
    checked = check(path, final=final, today=today, rules=rules, deliver=[name], captions=captions, progress=progress)
    if not checked.fits:
        raise NotFit(refusal(checked.findings), checked.findings)
    making = Making(
        captions=captions, review=review, encoder=encoder, today=today, rehearsal=not final, override=override
    )
    return make(checked, delivery(name, checked.loaded.folder), path, out, making, progress)


def make(checked: Checked, to: Delivery, path: Path, out: Path, how: Making, progress: Progress = _quiet) -> Rendered:
    """Makes the file of one delivery of a checked storyboard that fits, and the manifest beside it.

    Raises:
        NotFit: when a release does not allow it, or quality control fails and nobody answers for it.
        OutputFailed: when the file cannot be written or does not verify; nothing is left under its name.
    """
    from segmentkit.deliver.review_versions import versions as marked  # noqa: PLC0415
    from segmentkit.gate import Gate  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.plan.slate import around  # noqa: PLC0415
    from segmentkit.quality import examinable  # noqa: PLC0415
    from segmentkit.render.movie import make_movie  # noqa: PLC0415

    version = checked.version(to)
    if version is None:
        findings = next(one.findings for one in checked.refused if one.delivery.name == to.name)
        raise NotFit(refusal(findings), findings)
    to = replace(to, picture=replace(to.picture, encoder=how.encoder)) if how.encoder else to
    loaded, facts = version.loaded, version.facts
    plan = emptied(version.plan) if to.clean else version.plan
    made = captions_for(version, checked.look, to) if how.captions or to.burned else None
    drawn = burned(plan, made) if made else plan
    number = max((one.number for one in marked(path)), default=None) if to.leader else None
    led = around(loaded.board, plan, to, version=number, today=how.today or datetime.date.today())
    gate, store = None, Store.of(loaded.folder)
    if examinable(to) and not (how.review or how.rehearsal):
        gate = Gate(
            version=version, look=checked.look, to=to, plan=plan, drawn=drawn,
            captions=(*version.captions, *((made,) if made else ())), sidecars=how.sidecars,
            programme=led.leader.programme if led else None, override=how.override, progress=progress,
            store=store,
        )  # fmt: skip
    movie = make_movie(
        drawn, facts, checked.look, to, out, store=store, progress=progress, stamp=how.review,
        around=led, gate=gate,
    )  # fmt: skip
    passed = gate.passed(movie.path) if gate else None
    inside = {**({"captions": made.name} if made else {}), **({"review": how.review} if how.review else {})}
    beside = passed.beside if passed else ()
    listed = write_manifest(
        movie.path, plan, movie, version.findings, inside, held(loaded, facts), passed.entry if passed else None, beside
    )
    if gate and (refused := gate.refusal()):
        raise refused
    return Rendered(checked=checked, delivery=to, movie=movie, beside=(listed, *beside))


def captions_for(version: Version | Checked, look: Look, to: Delivery) -> CaptionSet:
    """The captions of a version by the rules that a delivery keeps."""
    name = rules_of(to, version.plan.size)
    ready = next((made for made in version.captions if made.name == name), None)
    if ready is not None:
        return ready
    from segmentkit.render.areas import taken_areas  # noqa: PLC0415

    taken = taken_areas(version.plan, look, version.facts)
    return captions_by(version.plan, [name], version.loaded.board.segment.language, taken)[0]


def refusal(findings: tuple[Finding, ...]) -> str:
    """Why nothing was rendered, one line an error."""
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    lines = [f"{f.place or ''}: {f.where}: {f.what} — {f.remedy} [{f.id}]" for f in errors]
    return "\n".join([f"nothing was rendered: {len(errors)} error(s)", *lines])


def shown(version: Version, look: Look, to: Delivery) -> Plan:
    """What a delivery shows: a clean one is bare, another may have its captions in the picture."""
    plan = emptied(version.plan) if to.clean else version.plan
    return burned(plan, captions_for(version, look, to)) if to.burned else plan


def save_still(seen: Checked | Planned, frame: int, out: Path) -> None:
    """Saves the picture of one frame of the first version as a PNG, exactly as it would go to the encoder."""
    with stills_of(seen) as composer:
        save_picture(composer, frame, out)


def stills_of(seen: Checked | Planned) -> Composer:
    """What draws the pictures of the first version; to be closed."""
    from segmentkit.render.picture import Composer  # noqa: PLC0415

    version = seen.versions[0]
    return Composer(shown(version, seen.look, version.deliveries[0]), version.facts, seen.look)


def save_picture(composer: Composer, frame: int, out: Path) -> None:
    """Saves the picture of one frame as a PNG; the second one from the same artist comes sooner."""
    from segmentkit.media.stills import write_png  # noqa: PLC0415

    out.parent.mkdir(parents=True, exist_ok=True)
    write_png(out, composer.still(frame))
