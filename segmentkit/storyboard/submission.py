"""Reads what viewers sent in: the batch file with people and submissions, the contacts kept apart, the withdrawals."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from segmentkit.storyboard import compose, locate
from segmentkit.storyboard.faults import Fault, Source, suggestion, unreadable
from segmentkit.storyboard.fields import Date, FilePath, Moment, Name, Node, RateField, Sentence, YesNo, takes
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.reading import read_as, read_model, read_text

BATCH = "submissions.yaml"
CONTACTS = "contacts.yaml"
WITHDRAWN = "withdrawn.yaml"


class VerdictWord(Enum):
    """What becomes of a part or a submission."""

    USE = "use"
    LIMITED = "use, limited"
    RESHOOT = "reshoot"
    NOT_USED = "not used"

    @property
    def rank(self) -> int:
        """0 for use up to 3 for not used."""
        return list(VerdictWord).index(self)


def _swing_number(value: object) -> int:
    text = str(value).strip()
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 99):
        raise ValueError(f"'{text[:40]}' is not a number of a swing — count from 1")
    return int(text)


SwingNumber = Annotated[
    int, *takes("number, from 1", _swing_number, "2", schema={"type": "integer", "minimum": 1, "maximum": 99})
]


class Part(Node):
    """One file of a submission. What a person writes here is taken as it stands; proposals never replace it."""

    file: FilePath = Field(description="Path from the folder of the batch file.")
    swing: SwingNumber | None = Field(default=None, description="Which swing of the clip to use, counted from 1.")
    positions: dict[Name, Moment] = Field(
        default_factory=dict, description="Moments a person has chosen: address, top, impact ..."
    )
    captured: RateField | None = Field(default=None, description="Real capture rate, where the file was slowed down.")
    mirrored: YesNo | None = Field(default=None, description="Whether a person saw that the picture is mirrored.")


class Decision(Node):
    """What a person has decided about a submission; it stands whatever is measured, but consent comes first."""

    verdict: VerdictWord = Field(description="use, `use, limited`, reshoot or not used.")
    by: Sentence = Field(description="Who decided.")
    why: Sentence | None = Field(default=None, description="Why, in a few words.")


class Submission(Node):
    """What one viewer sent: a set of parts, each with a use of its own."""

    person: Name = Field(description="Who is seen, by name among `people`.")
    received: Date | None = Field(default=None, description="The day on which it came.")
    down_the_line: Part | None = Field(default=None, alias="down-the-line", description="The swing from behind.")
    face_on: Part | None = Field(default=None, alias="face-on", description="The same swing from the front.")
    grip: Part | None = Field(default=None, description="A close-up of the hands; a clip or a still.")
    portrait: Part | None = Field(default=None, description="The person's face; a still or a clip.")
    miss: Sentence | None = Field(default=None, description="The usual miss: where the ball starts, how it bends.")
    question: Sentence | None = Field(default=None, description="The one question.")
    filmed_by: Sentence | None = Field(default=None, description="Who filmed, where it was somebody else.")
    decision: Decision | None = Field(default=None, description="What a person has decided.")

    @property
    def parts(self) -> tuple[tuple[str, Part], ...]:
        """The parts that came, by their names, in the order of the sheet."""
        named = (
            ("down-the-line", self.down_the_line), ("face-on", self.face_on), ("grip", self.grip),
            ("portrait", self.portrait),
        )  # fmt: skip
        return tuple((name, part) for name, part in named if part is not None)


def _format(value: object) -> int:
    if str(value).strip() != "1":
        raise ValueError("this version of segmentkit reads format 1 — write `intake: 1`")
    return 1


class Batch(Node):
    """A batch of submissions."""

    intake: Annotated[Literal[1], *takes("1", _format, "1", schema={"enum": [1, "1"]})] = Field(
        description="Version of this format: 1."
    )
    people: dict[Name, Person] = Field(default_factory=dict, description="Who sent or is seen, with their releases.")
    submissions: dict[Name, Submission] = Field(default_factory=dict, description="What came, by an id of your own.")


class Contact(Node):
    """How a person is reached. Read for addressing letters and for nothing else."""

    name: Sentence = Field(description="Name on the envelope.")
    email: Sentence | None = Field(default=None, description="Address for mail.")
    post: Sentence | None = Field(default=None, description="Address for post.")
    telephone: Sentence | None = Field(default=None, description="Telephone number.")


class Contacts(Node):
    """The file of contacts, kept apart from all else."""

    contacts: dict[Name, Contact] = Field(default_factory=dict, description="By the names of `people`.")


class Withdrawals(Node):
    """The file of releases taken back."""

    withdrawn: dict[Name, Date] = Field(default_factory=dict, description="The day, by the names of `people`.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedBatch:
    """A batch with the text it came from.

    Attributes:
        batch: the validated model; withdrawals of the list are entered in its people.
        folder: where its paths start.
        file: the file, as messages show it.
    """

    batch: Batch
    folder: Path
    file: str
    source: Source = field(repr=False)
    tree: compose.Node = field(repr=False)


def load_batch(path: Path) -> LoadedBatch:
    """Reads a batch file, or that of a folder, and enters the withdrawals that lie beside it or above it.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    path = path / BATCH if path.is_dir() else path
    source = Source(read_text(path), str(path))
    read = read_model(Batch, source)
    faults = read.faults
    if read.model is not None:
        faults += tuple(_strangers(read.model, read.tree, source))
    if faults or read.model is None:
        raise unreadable(faults)
    batch = read.model.model_copy(update={"people": with_withdrawals(read.model.people, path.parent)})
    return LoadedBatch(batch=batch, folder=path.parent, file=str(path), source=source, tree=read.tree)


def _strangers(batch: Batch, tree: compose.Node, source: Source) -> list[Fault]:
    faults = []
    for id_, submission in batch.submissions.items():
        if submission.person not in batch.people:
            span = locate.spot(locate.find(tree, ("submissions", id_, "person")))
            hint = suggestion(submission.person, list(batch.people), "person")
            faults.append(
                source.fault(*span, f"`{submission.person}` is not among people — {hint}", f"submission {id_}")
            )
    return faults


def load_contacts(path: Path) -> dict[str, Contact]:
    """Reads the file of contacts.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    return read_as(Contacts, read_text(path), path.name).contacts


def withdrawals(folder: Path) -> dict[str, datetime.date]:
    """Releases taken back, from each list in a folder and in those above it; the earliest day counts.

    Raises:
        StoryboardUnreadable: when a list has faults: a list that cannot be read must not pass for an empty one.
    """
    found: dict[str, datetime.date] = {}
    folder = folder.absolute()
    for place in (folder, *folder.parents):
        path = place / WITHDRAWN
        if path.is_file():
            for name, day in read_as(Withdrawals, read_text(path), str(path)).withdrawn.items():
                found[name] = min(day, found.get(name, day))
    return found


def with_withdrawals(people: dict[str, Person], folder: Path) -> dict[str, Person]:
    """People with the withdrawals of the lists entered."""
    taken = withdrawals(folder)
    return {
        name: person.model_copy(update={"withdrawn": taken[name]})
        if name in taken and person.withdrawn is None
        else person
        for name, person in people.items()
    }


def without_entry(text: str, path: tuple[str, ...], file: str) -> str:
    """A YAML text without one entry of a block mapping; comments of other entries stay.

    Raises:
        StoryboardUnreadable: when the text has faults or the entry cannot be cut out by lines.
    """
    source = Source(text, file)
    composed = compose.compose(source)
    if composed.faults or composed.root is None:
        raise unreadable(composed.faults)
    found = locate.find(composed.root, path)
    if not found.whole or found.key is None:
        return text
    start = source.line_start(found.key.start)
    if text[start : found.key.start].strip():
        raise unreadable([source.fault(found.key.start, found.key.end, "stands inside braces — take it out by hand")])
    indent = found.key.start - start
    end = text.find("\n", max(found.key.end, found.node.end - 1))
    end = len(text) if end < 0 else end + 1
    if text[start:end].rstrip().endswith("\n"):
        end = start + len(text[start:end].rstrip()) + 1
    kept = text[start:end].splitlines(keepends=True)
    length = len(kept[0])
    for line in kept[1:]:  # the span of a block value may reach over the comment of the next entry
        if line.strip() and len(line) - len(line.lstrip(" ")) <= indent:
            break
        length += len(line)
    return text[:start] + text[start + length :]
