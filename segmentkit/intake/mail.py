"""Writes the letters of a batch, and beside them the one list that holds addresses."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.consent import consent_reasons, uses_allowed
from segmentkit.intake.letters import KINDS, has_actions, kind_for, letter
from segmentkit.intake.record import read_data, write_text
from segmentkit.media import safe
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.submission import Contact, LoadedBatch, VerdictWord

_SHOWN = {"selected", "aired"}


def post(
    loaded: LoadedBatch, report: Path, folder: Path, limits: IntakeLimits, own: Path | None,
    given: Mapping[str, str], kind: str | None, only: Sequence[str], today: datetime.date,
) -> tuple[dict[str, Path], dict[str, str]]:  # fmt: skip
    """Writes one letter a submission. Consent is looked at again today, whatever the report says.

    Args:
        loaded: the batch as it stands now.
        report: the intake's JSON.
        folder: where the letters go.
        limits: the limits whose numbers they name.
        own: folder of the house's own words.
        given: fields that only a person knows.
        kind: the letter; None for the one that fits each verdict.
        only: ids of submissions; all when empty.
        today: the day on which releases must hold.

    Returns:
        The letters written, and why others were not, by id.

    Raises:
        StoryboardUnreadable: for an unknown kind, a missing report, or words with faults.
    """
    if kind is not None and kind not in KINDS:
        raise StoryboardUnreadable(f"letters — `{kind}` is no letter — {suggestion(kind, KINDS)}")
    data = read_data(report)
    written: dict[str, Path] = {}
    skipped: dict[str, str] = {}
    for id_, submission in loaded.batch.submissions.items():
        if only and id_ not in only:
            continue
        person = loaded.batch.people[submission.person]
        entry = data.get(id_)
        if entry is None:
            skipped[id_] = "it is not in the report; run the intake again"
            continue
        barred = [reason for reason in consent_reasons(person, today) if reason.word is VerdictWord.NOT_USED]
        if any(reason.id == "withdrawn" for reason in barred):
            skipped[id_] = "the release was taken back"
            continue
        chosen = kind or kind_for(entry)
        if chosen is None:
            skipped[id_] = "the verdict asks for none"
            continue
        if chosen == "reshoot" and not has_actions(entry, own) and "actions" not in given:
            skipped[id_] = "the report names nothing to film again; say it with --set actions=..."
            continue
        if chosen in _SHOWN and barred:
            skipped[id_] = barred[0].what
            continue
        entry = {**entry, "uses": uses_allowed(person, today)}
        text = letter(chosen, entry, person, limits, own, given)
        written[id_] = write_text(folder / f"{id_}.{chosen}.txt", text)
    return written, skipped


def write_addresses(
    path: Path, loaded: LoadedBatch, written: Mapping[str, Path], contacts: Mapping[str, Contact]
) -> Path:
    """Writes which letter goes to which address; only its owner may read the file.

    Raises:
        OutputFailed: when the disk refuses.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("letter", "name", "email", "post"))
    for id_, letter_path in written.items():
        contact = contacts.get(loaded.batch.submissions[id_].person)
        if contact is not None:
            writer.writerow((letter_path.name, contact.name, contact.email or "", contact.post or ""))
    with safe.writing(path) as partial:
        partial.touch(mode=0o600)
        partial.write_text(out.getvalue(), "utf-8", newline="")
    return path
