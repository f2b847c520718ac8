"""Makes items ready: templates filled, storyboards read, records found, consent asked. No clip is opened here."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from segmentkit.checks.rules import Rules
from segmentkit.checks.run import consent_checks
from segmentkit.delivery import Delivery
from segmentkit.errors import SegmentkitError, StoryboardUnreadable
from segmentkit.findings import Severity
from segmentkit.intake.consent import consent_reasons, uses_allowed
from segmentkit.media.store import Store
from segmentkit.season.entry import Entry, Why
from segmentkit.season.filling import filled
from segmentkit.season.inputs import contents_of, item_key
from segmentkit.season.profiles import profile
from segmentkit.season.sent import Records, Sent
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.season import Item, LoadedSeason
from segmentkit.storyboard.submission import VerdictWord

Told = Callable[[int, int], None]
Days = tuple[datetime.date, datetime.date]
"""Today, and the day of airing; today again where none is written."""


def make_ready(
    season: LoadedSeason,
    items: Sequence[Item],
    *,
    store: Store,
    today: datetime.date,
    rules: Rules | None,
    final: bool,
    write: bool,
    told: Told,
) -> tuple[Entry, ...]:
    """Every item, ready or refused; what is wrong with one costs itself and nothing else.

    Args:
        season: the season.
        items: those to make ready.
        store: the working folder, where the hashes of files are kept.
        today: the day on which releases must hold.
        rules: of the house.
        final: whether guide voices are refused.
        write: whether filled templates may be written; else they are only read.
        told: how many are ready, and of how many.

    Raises:
        OutputFailed: when a filled template or the working folder cannot be written.
    """
    records, made = Records(), []
    for done, item in enumerate(items):
        told(done, len(items))
        made.append(_ready(season, item, records, store, today, rules, final=final, write=write))
    told(len(items), len(items))
    return tuple(made)


def _ready(
    season: LoadedSeason, item: Item, records: Records, store: Store, today: datetime.date, rules: Rules | None, *,
    final: bool, write: bool,
) -> Entry:  # fmt: skip
    entry = Entry(item=item)
    try:
        sent = records.sent(item, season.folder)
        entry = replace(entry, sent=sent)
        # Before anything else of a person is looked at, even the words about them.
        if sent is not None and (why := _barred(sent, today)) is not None:
            return replace(entry, refused=why)
        path, loaded, notes = _storyboard(season, item, sent, write=write)
        entry = replace(entry, path=path, loaded=loaded, notes=notes)
        wanted = item.deliver or season.season.deliver or loaded.board.deliver
        profiles, held = _allowed(loaded, sent, wanted, (today, item.air or today), rules)
        entry = replace(entry, profiles=profiles, held=held)
        if not profiles:
            return replace(entry, refused=held[0][1])
        contents, _ = contents_of(loaded, sent, store)
        key = item_key(loaded, sent, profiles, contents, rules, final)
        return replace(entry, contents=contents, key=key)
    except StoryboardUnreadable as error:
        return replace(entry, refused=Why(id="unreadable", what=_first_line(error)))
    except SegmentkitError as error:
        return replace(entry, refused=Why(id="not-ready", what=_first_line(error)))


def _first_line(error: SegmentkitError) -> str:
    lines = str(error).splitlines() or [type(error).__name__]
    faults = getattr(error, "faults", ())
    return lines[0] + (f" (and {len(faults) - 1} more faults)" if len(faults) > 1 else "")


def _barred(sent: Sent, today: datetime.date) -> Why | None:
    """Why the record forbids to use anything of this person; a professional may have decided about pain."""
    decision = sent.submission.decision
    if decision is not None and decision.verdict in {VerdictWord.NOT_USED, VerdictWord.RESHOOT}:
        why = f" — {decision.why}" if decision.why else ""
        return Why(id="decided", what=f"{decision.by} decided: {decision.verdict.value}{why}")
    for reason in consent_reasons(sent.person, today):
        if reason.word is VerdictWord.NOT_USED and not (reason.id == "pain" and decision is not None):
            return Why(id=reason.id, what=reason.what, consent=True)
    return None


def _storyboard(
    season: LoadedSeason, item: Item, sent: Sent | None, *, write: bool
) -> tuple[Path, LoadedStoryboard, tuple[str, ...]]:
    if item.storyboard is None:
        return filled(season, item, sent, write=write)
    path = season.folder / item.storyboard
    path = path / "storyboard.yaml" if path.is_dir() else path
    return path, load(path), ()


def _allowed(
    loaded: LoadedStoryboard, sent: Sent | None, wanted: Sequence[str], days: Days, rules: Rules | None
) -> tuple[tuple[str, ...], tuple[tuple[str, Why], ...]]:
    """Profiles that everyone shown and every licence has allowed, and the others with the reason."""
    allowed: list[str] = []
    held: list[tuple[str, Why]] = []
    for name in wanted:
        to = profile(name, loaded)
        why = _against(loaded, sent, to, days, rules)
        if why is None:
            allowed.append(name)
        else:
            held.append((name, why))
    return tuple(allowed), tuple(held)


def _against(loaded: LoadedStoryboard, sent: Sent | None, to: Delivery, days: Days, rules: Rules | None) -> Why | None:
    today, air = days
    if sent is not None and to.scope not in uses_allowed(sent.person, today):
        # A professional's word on pain opens what the release allows, and no more.
        signed = [scope.value for scope in sent.person.release.for_] if sent.person.release is not None else []
        if to.scope not in signed or (to.scope == "marketing" and sent.person.adult is not True):
            return Why(
                id="release-scope",
                what=f"{to.name} needs a release for {to.scope}; the record's allows {', '.join(signed) or 'nothing'}"
                + (", and a minor is never in marketing" if sent.person.adult is False else ""),
                consent=True,
            )
    for finding in consent_checks(loaded, (to,), today, rules):
        if finding.severity is Severity.ERROR:
            # Who took it back is not named any more, not even here.
            taken = finding.id == "release-withdrawn"
            what = f"{finding.where}: the release was taken back" if taken else f"{finding.what} — {finding.remedy}"
            return Why(id=finding.id, what=what, consent=True)
    # A licence is for being on air; what would be aired after its end is not made, and what was aired before stays.
    for finding in consent_checks(loaded, (to,), air, rules) if air > today else ():
        if finding.severity is Severity.ERROR and finding.id.startswith("licence-"):
            return Why(id=finding.id, what=f"on the day of airing: {finding.what} — {finding.remedy}")
    return None
