"""The versions of a segment that are delivered: which there are, who allowed them, and how each is planned and judged.

Deliveries that want the same cut, size and rate share one version, so nothing is planned or judged twice.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.checks.rules import Rules
from segmentkit.checks.run import consent_checks, run_checks
from segmentkit.deliver.lock import lock_facts
from segmentkit.delivery import Delivery
from segmentkit.facts import Facts
from segmentkit.findings import Finding, Severity, worst_first
from segmentkit.measure import Measured, Progress, measured
from segmentkit.plan.build import build_plan
from segmentkit.plan.captions import CaptionSet, caption_sets
from segmentkit.plan.model import Plan
from segmentkit.storyboard.cuts import VersionKey, version_key, version_of
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.look import Look
from segmentkit.storyboard.profiles import delivery
from segmentkit.timebase import Rate, nearest_frame, seconds_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A version before anything is opened: the storyboard as it is wanted, and the deliveries that want it."""

    loaded: LoadedStoryboard
    deliveries: tuple[Delivery, ...]
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """A version that was measured, planned and judged.

    Attributes:
        deliveries: those that want it and are allowed.
        loaded: the storyboard as they want it; its places point into the text as written.
        facts: what was measured of its clips and readings.
        plan: what is seen and heard.
        captions: by each set of rules that its deliveries need.
        findings: how it was judged, worst first.
        whole: whether it is the storyboard as it is written.
    """

    deliveries: tuple[Delivery, ...]
    loaded: LoadedStoryboard
    facts: Facts
    plan: Plan
    captions: tuple[CaptionSet, ...]
    findings: tuple[Finding, ...]
    whole: bool

    @property
    def fits(self) -> bool:
        """Whether nothing forbids a render of it."""
        return not forbids(self.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A delivery that somebody's release does not allow; none of its pictures was opened for it."""

    delivery: Delivery
    findings: tuple[Finding, ...]


def forbids(findings: Iterable[Finding]) -> bool:
    """Whether any of the findings stops a render."""
    return any(finding.severity is Severity.ERROR for finding in findings)


def drawn_at(to: Delivery, loaded: LoadedStoryboard) -> Delivery:
    """A delivery with the rate at which its pictures are drawn: an interlaced frame holds two, a field of each."""
    rate = to.rate or loaded.board.segment.rate
    return replace(to, rate=Rate(2 * rate.fps)) if to.fields is not None else to


def review_copy(to: Delivery, loaded: LoadedStoryboard) -> Delivery:
    """A delivery to be looked at: its cut, size, rate, captions and loudness, coded for the web, without leader.

    Where its frames are interlaced, the copy shows each picture whole, at the rate at which they are drawn.
    """
    web = delivery("web")
    return replace(
        to, picture=web.picture, sound=web.sound if to.sound is not None else None, container=web.container,
        rate=drawn_at(to, loaded).rate if to.fields is not None else to.rate, fields=None, leader=None,
    )  # fmt: skip


def versions_wanted(loaded: LoadedStoryboard, deliveries: Sequence[Delivery]) -> list[Wanted]:
    """The versions that some deliveries want, in the order in which they are first wanted.

    Raises:
        StoryboardUnreadable: when the storyboard lacks a cut.
    """
    found: dict[tuple[VersionKey, bool], tuple[LoadedStoryboard, list[Delivery]]] = {}
    for to in deliveries:
        drawn = drawn_at(to, loaded)
        key = version_key(loaded.board, drawn), to.fields is not None
        if key not in found:
            found[key] = (version_of(loaded, drawn), [])
        found[key][1].append(to)
    return [Wanted(loaded=version, deliveries=tuple(tos), whole=version is loaded) for version, tos in found.values()]


def allowed(
    wanted: Sequence[Wanted], today: datetime.date, rules: Rules | None
) -> tuple[list[Wanted], tuple[Refused, ...]]:
    """Parts the deliveries into those that every release allows and those that one forbids.

    Consent is judged before any clip is opened, and for each delivery by itself: a release for the web alone forbids
    the broadcast, not the web.
    """
    open_, refused = [], []
    for one in wanted:
        may = []
        for to in one.deliveries:
            findings = consent_checks(one.loaded, (to,), today, rules)
            if forbids(findings):
                refused.append(Refused(delivery=to, findings=tuple(findings)))
            else:
                may.append(to)
        if may:
            open_.append(replace(one, deliveries=tuple(may)))
    return open_, tuple(refused)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How versions are to be judged.

    Attributes:
        path: the storyboard.
        look: how it is drawn.
        today: the day on which releases must hold.
        final: whether as a final render.
        rules: severities and limits of the house.
        slot: another length in frames for the first version, to answer "what if".
        unused: takes that belong to no line of the file.
    """

    path: Path
    look: Look
    today: datetime.date
    final: bool
    rules: Rules | None
    slot: int | None
    unused: tuple[str, ...] = ()


def planned(wanted: Sequence[Wanted], asked: Asked, progress: Progress) -> tuple[Version, ...]:
    """Measures and plans versions; what they share is opened once.

    That is all a picture needs: there are no captions yet, and the findings are those of planning alone.

    Raises:
        MediaUnusable: when a file cannot be used.
    """
    before = Measured()
    return tuple(_planned(one, asked, before, progress, first=index == 0) for index, one in enumerate(wanted))


def _planned(one: Wanted, asked: Asked, before: Measured, progress: Progress, *, first: bool) -> Version:
    loaded, facts = measured(one.loaded, progress, before)
    facts = replace(facts, unused_takes=asked.unused) if first else facts
    slot = asked.slot if first and asked.slot is not None else _slot(one)
    plan, problems = build_plan(loaded, facts, slot=slot)
    return Version(
        deliveries=one.deliveries,
        loaded=loaded,
        facts=facts,
        plan=plan,
        captions=(),
        findings=tuple(problems),
        whole=one.whole,
    )


def judged(versions: Sequence[Version], asked: Asked) -> tuple[Version, ...]:
    """Versions that were planned, with their captions and with all that the checks find."""
    return tuple(_judged(one, asked, first=index == 0) for index, one in enumerate(versions))


def _judged(one: Version, asked: Asked, *, first: bool) -> Version:
    # What only looks at pictures starts without these.
    from segmentkit.checks.context import CheckContext  # noqa: PLC0415
    from segmentkit.render.areas import taken_areas  # noqa: PLC0415
    from segmentkit.render.texts import text_facts  # noqa: PLC0415

    taken = taken_areas(one.plan, asked.look, one.facts)
    captions = caption_sets(one.plan, one.deliveries, one.loaded.board.segment.language, taken)
    context = CheckContext(
        loaded=one.loaded,
        plan=one.plan,
        facts=one.facts,
        deliveries=one.deliveries,
        today=asked.today,
        final=asked.final,
        texts=text_facts(one.plan, asked.look),
        captions=captions,
        lock=lock_facts(asked.path, one.loaded, one.facts) if first else None,
    )
    findings = worst_first([*one.findings, *run_checks(context, asked.rules)])
    return replace(one, captions=captions, findings=tuple(findings))


def _slot(one: Wanted) -> int | None:
    """The slot in pictures drawn, where two of them make a frame: an even number, the nearest frame's."""
    if all(to.fields is None for to in one.deliveries):
        return None
    segment = one.loaded.board.segment
    frames = Rate(segment.rate.fps / 2)
    return 2 * nearest_frame(seconds_of(segment.slot, segment.rate), frames)


def told(versions: Sequence[Version], refused: Sequence[Refused]) -> tuple[Finding, ...]:
    """All findings, worst first, each once; those of a version that is not the storyboard as written name it.

    What two versions of one cut and shape differ in is their rate, so a finding that one has is not told of the other
    in that one's numbers again.
    """
    everywhere = len(versions)
    found: dict[tuple[object, ...], tuple[Finding, list[Version]]] = {}
    for version in versions:
        for finding in version.findings:
            key = _alike(finding, version, found)
            found.setdefault(key, (finding, []))[1].append(version)
    named = [
        finding if len(seen) == everywhere or any(version.whole for version in seen) else _named(finding, seen)
        for finding, seen in found.values()
    ]
    own = {(finding.id, finding.place, finding.what) for finding in named}
    for one in refused:
        for finding in one.findings:
            if (finding.id, finding.place, finding.what) not in own:
                own.add((finding.id, finding.place, finding.what))
                named.append(finding)
    return tuple(worst_first(named))


def _alike(
    finding: Finding, version: Version, found: dict[tuple[object, ...], tuple[Finding, list[Version]]]
) -> tuple[object, ...]:
    """What counts as the same finding: the same words, or the same check at the same spot of the same cut and shape."""
    said = (finding.id, finding.place, finding.where, finding.what)
    for key, (other, seen) in found.items():
        spot = (other.id, other.place, other.where) == (finding.id, finding.place, finding.where)
        if spot and version not in seen and any(_same_shape(version, one) for one in seen):
            return key
    return said if said not in found or version not in found[said][1] else (*said, id(finding))


def _same_shape(one: Version, other: Version) -> bool:
    """Whether two versions differ in their rate alone."""
    cuts = {to.cut for version in (one, other) for to in version.deliveries}
    return len(cuts) == 1 and one.plan.size == other.plan.size


def _named(finding: Finding, seen: Sequence[Version]) -> Finding:
    names = [to.name for version in seen for to in version.deliveries]
    shown = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return replace(finding, where=f"{shown}: {finding.where}")
