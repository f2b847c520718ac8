"""Reads a storyboard: text in, validated model out, or every fault at once.

`load` is the door for files, `loads` for text. The text stays with the model, so that later rooms can point at the spot
where a value was written, and an editor can change it without touching the rest.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from segmentkit.findings import Place
from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Node, Scalar
from segmentkit.storyboard.cut_faults import cut_faults, delivery_faults
from segmentkit.storyboard.expand import with_presets
from segmentkit.storyboard.faults import Source, unreadable
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.presets import Preset
from segmentkit.storyboard.reading import read_model, read_text
from segmentkit.storyboard.references import located, reference_faults
from segmentkit.storyboard.submission import with_withdrawals


@lru_cache(maxsize=8)
def _lines(text: str, file: str) -> Source:
    """A text with its lines, kept: a report asks for many places of one text."""
    return Source(text, file)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedStoryboard:
    """A storyboard with the text it came from.

    Attributes:
        board: the validated model.
        folder: the folder that its paths start from.
        file: the file's name as faults and findings show it.
        text: the text, unchanged.
        tree: the located tree of the text.
        presets: the fault presets that its beats name, by name.
        moved: parts that are written elsewhere in the text, in a version of the storyboard.
        pared: whether the words in braces are left out, in a version of the storyboard.
    """

    board: Storyboard
    folder: Path
    file: str
    text: str
    tree: Node = field(repr=False)
    presets: dict[str, Preset] = field(default_factory=dict, repr=False)
    moved: tuple[locate.Moved, ...] = field(default=(), repr=False)
    pared: bool = False

    def place(self, *path: str | int) -> Place:
        """Where the value at a path is written: `place("beats", 3, "strokes", "hip_gap")`.

        A scalar's own spot; for a mapping or list its key. What is not written has the spot of the nearest value
        around it that is.
        """
        written = locate.written_at(path, self.moved)
        return _lines(self.text, self.file).place(locate.spot(locate.find(self.tree, written))[0])

    def span(self, *path: str | int) -> tuple[int, int]:
        """The characters of `text`, half-open, that write the scalar at a path, quotes included.

        Raises:
            KeyError: when no scalar is written there.
        """
        found = locate.find(self.tree, locate.written_at(path, self.moved))
        if not found.whole or not isinstance(found.node, Scalar):
            raise KeyError(path)
        return found.node.start, found.node.end


def load(path: Path) -> LoadedStoryboard:
    """Reads a storyboard file; releases that a list beside it or above it takes back are entered in its people.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    text = read_text(path)
    loaded = _loaded(text, str(path), path.parent)
    people = with_withdrawals(loaded.board.people, path.parent)
    return replace(loaded, board=loaded.board.model_copy(update={"people": people}))


def loads(text: str, name: str = "storyboard.yaml", folder: Path = Path()) -> LoadedStoryboard:
    """Reads a storyboard's text; `name` is what faults call it, `folder` where its paths start.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    return _loaded(text, name, folder)


def _loaded(text: str, name: str, folder: Path) -> LoadedStoryboard:
    source = Source(text, name)
    read = read_model(Storyboard, source)
    faults, board = read.faults, read.model
    presets: dict[str, Preset] = {}
    if board is not None:
        board, refused, presets = with_presets(board, folder)
        faults += tuple(located(refused, read.tree, source))
        # A beat whose preset was refused lacks strokes, which its words may start: that only follows.
        if not refused:
            faults += tuple(reference_faults(board, read.tree, source))
            faults += tuple(located((*cut_faults(board, folder), *delivery_faults(board, folder)), read.tree, source))
    if faults or board is None:
        raise unreadable(faults)
    return LoadedStoryboard(board=board, folder=folder, file=name, text=text, tree=read.tree, presets=presets)
