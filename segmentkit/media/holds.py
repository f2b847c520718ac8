"""What each piece in a working folder holds, so that those of one person can be found when a release is taken back.

Beside the record of a movie lies a note that lists its pieces, each with the SHA-256 of every clip, still and take in
it and with marks of the words on screen and in speech. No name stands there: a mark is a part of a word's hash, good
for asking whether a known name is in a piece and for nothing else.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from segmentkit.media.pieces import KIND as PIECES
from segmentkit.media.pieces import RECIPE as PIECE_RECIPE
from segmentkit.media.store import Store

KIND = "holds"
RECIPE = 1
_WORD = re.compile(r"\w+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What a piece holds.

    Attributes:
        contents: SHA-256 of clips, stills and takes in it, in hex.
        marks: of the words that are seen or said in it.
    """

    contents: frozenset[str]
    marks: frozenset[str]

    def shows(self, contents: Iterable[str], names: Iterable[str]) -> bool:
        """Whether any of these files is in it, or all words of any of these names."""
        if self.contents & set(contents):
            return True
        return any(wanted and wanted <= self.marks for wanted in map(marks_of, names))


def marks_of(*texts: str) -> frozenset[str]:
    """A mark of each word; capitals do not matter."""
    words = {word.casefold() for text in texts for word in _WORD.findall(text)}
    return frozenset(hashlib.sha256(word.encode()).hexdigest()[:12] for word in words)


def note(store: Store, movie: str, pieces: Mapping[str, Holding]) -> None:
    """Writes what the pieces of a movie hold, once.

    Args:
        store: the working folder.
        movie: name of the movie's record.
        pieces: by key.

    Raises:
        OutputFailed: when the working folder cannot be written to.
    """
    entry = store.path_for(KIND, RECIPE, movie, suffix=".json")
    if entry.is_file():
        return
    listed = {
        store.path_for(PIECES, PIECE_RECIPE, key, suffix=".mp4").name: {
            "contents": sorted(held.contents), "marks": sorted(held.marks),
        }
        for key, held in pieces.items()
    }  # fmt: skip
    with store.writing(entry) as partial:
        partial.write_text(json.dumps({"movie": movie, "pieces": listed}))


def noted(folder: Path) -> Iterator[tuple[Path, dict[str, Holding]]]:
    """Each note of a working folder: its file, and what each piece holds by the piece's file name."""
    for path in sorted((folder / KIND).rglob("*.json")):
        try:
            data = json.loads(path.read_text())["pieces"]
            yield (
                path,
                {
                    name: Holding(contents=frozenset(held["contents"]), marks=frozenset(held["marks"]))
                    for name, held in data.items()
                },
            )
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            continue
