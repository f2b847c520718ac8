"""What an item is made from: every file with its bytes, and one hash over all that can change what is delivered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from segmentkit import __version__
from segmentkit.checks.rules import Rules
from segmentkit.checks.uses import pictures_used
from segmentkit.errors import SegmentkitError
from segmentkit.media.store import Store
from segmentkit.media.takes import find_takes
from segmentkit.plan.speech import speech_requests
from segmentkit.resources import templates_folder
from segmentkit.season.sent import Sent
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.load_look import load_look, look_file

_PACKAGE = Path(__file__).resolve().parent.parent


def files_of(loaded: LoadedStoryboard, sent: Sent | None) -> Iterator[tuple[str, Path]]:
    """Every file that an item is made from, with what it is: clips, stills, takes, music, look, parts sent.

    Raises:
        MediaUnusable: when the takes cannot be told apart.
    """
    board, folder = loaded.board, loaded.folder
    clips, stills = pictures_used(board)
    for id_ in sorted(clips):
        yield f"clip {id_}", folder / board.clips[id_].file
    for id_ in sorted(stills):
        yield f"still {id_}", folder / board.stills[id_].file
    if board.voice.takes is not None:
        for (beat, line), path in sorted(find_takes(folder / board.voice.takes, speech_requests(board)).items()):
            yield f"take {beat} {line + 1}", path
    for number, music in enumerate(board.music, 1):
        yield f"music {number}", folder / music.file
    own = look_file(board.look, folder)
    if not own.is_relative_to(templates_folder()):
        yield "look", own
        fonts = Path(load_look(board.look, folder).type.folder)
        if not fonts.is_relative_to(templates_folder()):
            for font in sorted(path for path in fonts.iterdir() if path.is_file()):
                yield f"font {font.name}", font
    for name in board_profiles(loaded):
        yield f"profile {name}", folder / name
    if sent is not None:
        for part, path in sent.files():
            yield f"sent {part}", path


def board_profiles(loaded: LoadedStoryboard) -> tuple[str, ...]:
    """Profiles of a storyboard that are files of its own."""
    return tuple(name for name in loaded.board.deliver if (loaded.folder / name).is_file())


def contents_of(loaded: LoadedStoryboard, sent: Sent | None, store: Store) -> tuple[dict[Path, str], dict[str, str]]:
    """SHA-256 of each file by its path, and why others could not be read, by what they are.

    A file that cannot be read is told when the item is made; here it only has no bytes.
    """
    contents: dict[Path, str] = {}
    missing: dict[str, str] = {}
    for what, path in files_of(loaded, sent):
        try:
            contents[path] = store.content_of(path)
        except SegmentkitError as error:
            missing[what] = str(error)
    return contents, missing


def item_key(
    loaded: LoadedStoryboard,
    sent: Sent | None,
    profiles: Sequence[str],
    contents: dict[Path, str],
    rules: Rules | None,
    final: bool,
) -> str:
    """One hash over the words, the bytes, the people, the profiles, the house rules and this program's own text.

    Consent is not in it but asked anew each time: it may end without anything else being changed.
    """
    pictures = sorted((path.name, content) for path, content in contents.items())
    person = repr(sent.person.model_copy(update={"release": None, "withdrawn": None})) if sent is not None else None
    came = repr(sent.submission) if sent is not None else None
    presets = sorted((name, repr(preset)) for name, preset in loaded.presets.items())
    data = [
        "item", 1, __version__, program(), loaded.text, pictures, list(profiles), person, came, presets, repr(rules),
        final,
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(data, default=str, sort_keys=True).encode()).hexdigest()


@cache
def program() -> str:
    """A hash over this program's text and what travels with it: another version may plan or judge otherwise."""
    digest = hashlib.sha256()
    for root in (_PACKAGE, templates_folder()):
        for path in sorted(root.rglob("*")):
            inside = path.relative_to(root)
            if path.suffix in {".py", ".yaml"} and inside.parts[0] not in {"cli", "season"}:
                digest.update(inside.as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()
