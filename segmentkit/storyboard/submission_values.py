"""Values from what a viewer sent: name as shown, place, hand, club, question, clips, and the positions found at intake.

Blanks of these names are filled: `viewer` (who is seen), `viewer_dtl` and `viewer_face_on` (the swings), `viewer_swing`
(one of them, for a template that asks for one), `viewer_grip` and `viewer_portrait` (stills), `question`, `miss` and
`club`. Templates that use these names take submissions as they come.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from collections.abc import Mapping as Mappings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.compose import Entry, Mapping, Node, Scalar
from segmentkit.storyboard.submission import LoadedBatch, Submission, load_batch
from segmentkit.storyboard.values import Values

REPORT = Path("intake") / "intake.json"
PARTS = {
    "down-the-line": "viewer_dtl", "face-on": "viewer_face_on", "grip": "viewer_grip", "portrait": "viewer_portrait",
}  # fmt: skip
STILLS = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff", ".bmp"})
ONE_SWING = "viewer_swing"
TEXTS = ("question", "miss")


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One submission with its person, and what the intake found in its clips.

    Attributes:
        id: as in the batch file.
        loaded: the batch it is in.
        found: positions by the parts' names: frames of the part's file, as text such as `f218`.
    """

    id: str
    loaded: LoadedBatch = field(repr=False)
    found: Mappings[str, Mappings[str, str]] = field(default_factory=dict, repr=False)

    @property
    def submission(self) -> Submission:
        """The submission as written."""
        return self.loaded.batch.submissions[self.id]


def read_records(where: Path) -> tuple[Record, ...]:
    """All submissions of a folder or a batch file, with what the last intake found, where it has been run.

    Raises:
        StoryboardUnreadable: with every fault of the batch file, or when the report is not one of ours.
    """
    loaded = load_batch(where)
    report = loaded.folder / REPORT
    found = _found(report) if report.is_file() else {}
    return tuple(Record(id=id_, loaded=loaded, found=found.get(id_, {})) for id_ in loaded.batch.submissions)


def values_from(record: Record, blanks: Iterable[str] | None = None, *, view: str | None = None) -> Values:
    """What a submission says, as values; each still known by its spot in the batch file.

    Args:
        record: the submission.
        blanks: those of the template; what it does not ask for is left out. All that there is when None.
        view: from where the one swing of a template that asks for one only, `viewer_swing`, should be filmed; else the
            first that came.
    """
    wanted = None if blanks is None else set(blanks)
    submission = record.submission
    root = record.loaded.tree
    made = Mapping(0, 0, False)
    person = _under(root, "people", submission.person)
    sent = _under(root, "submissions", record.id)
    if isinstance(person, Mapping):
        keys = Mapping(person.start, person.end, person.flow, dict(person.entries))
        name = Scalar(person.start, person.start + 1, submission.person)
        keys.entries = {"id": Entry(name, name), **keys.entries}
        made.entries["viewer"] = Entry(name, keys)
        if isinstance(club := _under(person, "club"), Scalar):
            made.entries["club"] = Entry(club, club)
    if isinstance(sent, Mapping):
        for part, blank in PARTS.items():
            entry = sent.entries.get(part)
            if entry is not None and isinstance(entry.value, Mapping) and _suits(part, entry.value):
                made.entries[blank] = Entry(entry.key, _clip(part, entry.value, record.found.get(part, {})))
        ways = [part for part in (view, "down-the-line", "face-on") if part and PARTS.get(part) in made.entries]
        if ways:
            made.entries[ONE_SWING] = _viewed(made.entries[PARTS[ways[0]]], ways[0])
        for text in TEXTS:
            if text in sent.entries:
                made.entries[text] = sent.entries[text]
    if wanted is not None:
        made.entries = {name: entry for name, entry in made.entries.items() if name in wanted}
    return Values(((record.loaded.source, made),))


def _suits(part: str, sent: Mapping) -> bool:
    """Whether a part can stand for its blank: close-up and portrait are stills there, and some send them as clips."""
    file = sent.entries["file"].value if "file" in sent.entries else None
    still = isinstance(file, Scalar) and Path(file.text or "").suffix.lower() in STILLS
    return still or part not in {"grip", "portrait"}


def _clip(part: str, sent: Mapping, found: Mappings[str, str]) -> Mapping:
    """A part as a clip: what a person has chosen comes before what was found."""
    keys = {n: e for n, e in sent.entries.items() if n in {"file", "captured", "mirrored"}}
    if part in {"grip", "portrait"}:
        return Mapping(sent.start, sent.end, False, {n: e for n, e in keys.items() if n == "file"})
    at = sent.entries["file"].value if "file" in sent.entries else sent
    chosen = sent.entries.get("positions")
    positions = Mapping(at.start, at.end, True)
    for name, frame in found.items():
        spot = Scalar(at.start, at.end, frame)
        positions.entries[name] = Entry(spot, spot)
    if chosen is not None and isinstance(chosen.value, Mapping):
        positions.entries |= chosen.value.entries
    if positions.entries:
        keys["positions"] = Entry(Scalar(at.start, at.end, "positions"), positions)
    return Mapping(sent.start, sent.end, False, keys)


def _viewed(entry: Entry, view: str) -> Entry:
    """The clip with its view written, for a blank that takes any."""
    clip = entry.value
    assert isinstance(clip, Mapping)
    start, end = entry.key.start, entry.key.end
    keys = {**clip.entries, "view": Entry(Scalar(start, end, "view"), Scalar(start, end, view))}
    return Entry(entry.key, Mapping(clip.start, clip.end, clip.flow, keys))


def _under(node: Node, *path: str) -> Node | None:
    for step in path:
        entry = node.entries.get(step) if isinstance(node, Mapping) else None
        if entry is None:
            return None
        node = entry.value
    return node


def _found(report: Path) -> dict[str, dict[str, dict[str, str]]]:
    """Positions by submission and part from an intake's report; what a person chose is there as well."""
    try:
        data: dict[str, Any] = json.loads(report.read_text("utf-8"))
        return {
            str(one["submission"]): {
                str(part["part"]): {
                    str(p["position"]): f"f{int(p['frame'])}" for p in part["proposals"] if p["frame"] is not None
                }
                for part in one["parts"]
            }
            for one in data["submissions"]
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise StoryboardUnreadable(
            f"{report} — is not the report of an intake ({type(error).__name__}) — positions are taken from it — run "
            "`segmentkit intake` again, or delete it"
        ) from None
