"""The lock: a hash of everything that goes into a segment, and what differs from it now.

The lock lies beside the storyboard in `review/lock.json`, as plain text.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from segmentkit.errors import OutputFailed, SegmentkitError
from segmentkit.facts import Facts, LockFacts
from segmentkit.media import safe
from segmentkit.media.store import sha256_of
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.load_look import look_file

REVIEW = "review"
LOCK = "lock.json"


def review_folder(storyboard: Path) -> Path:
    """Where versions, notes and the lock of a storyboard lie; storyboards that share a folder have their own."""
    return storyboard.parent / REVIEW / storyboard.stem


def text_hash(loaded: LoadedStoryboard) -> str:
    """SHA-256 of a storyboard's text, in hex."""
    return hashlib.sha256(loaded.text.encode()).hexdigest()


def inputs(loaded: LoadedStoryboard, facts: Facts) -> dict[str, str]:
    """SHA-256 of everything that goes into a segment, by a name for people.

    Guide voices are left out: they are made from the words, which the storyboard holds.
    """
    hashes = {"storyboard": text_hash(loaded)}
    hashes |= {f"clip {id_}": clip.content for id_, clip in facts.clips.items()}
    hashes |= {f"still {id_}": still.content for id_, still in facts.stills.items()}
    for reading in facts.readings:
        if reading.path is not None and not reading.is_guide:
            hashes[f"take {reading.path.name}"] = sha256_of(reading.path)
    for cue in loaded.board.music:
        hashes[f"music {cue.file}"] = sha256_of(loaded.folder / cue.file)
    look = look_file(loaded.board.look, loaded.folder)
    hashes[f"look {look.name}"] = sha256_of(look)
    return dict(sorted(hashes.items()))


def lock(storyboard: Path, loaded: LoadedStoryboard, facts: Facts, *, version: int, by: str, on: str) -> Path:
    """Locks a segment as it is and returns the lock's path; an earlier lock is replaced.

    Raises:
        OutputFailed: when it cannot be written.
    """
    target = review_folder(storyboard) / LOCK
    data = {"version": version, "by": by, "on": on, "inputs": inputs(loaded, facts)}
    with safe.writing(target) as partial:
        partial.write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return target


def unlock(storyboard: Path) -> bool:
    """Takes the lock off; returns whether there was one.

    Raises:
        OutputFailed: when it cannot be removed.
    """
    target = review_folder(storyboard) / LOCK
    try:
        target.unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise OutputFailed(safe.cannot_write(target, error)) from error
    return True


def lock_facts(storyboard: Path, loaded: LoadedStoryboard, facts: Facts) -> LockFacts | None:
    """What differs from the lock; None when nothing is locked.

    Raises:
        SegmentkitError: when the lock cannot be read, since a damaged lock must not pass for none.
    """
    target = review_folder(storyboard) / LOCK
    try:
        data = json.loads(target.read_text("utf-8"))
        was: Mapping[str, str] = data["inputs"]
        version, by, on = int(data["version"]), str(data["by"]), str(data["on"])
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SegmentkitError(
            f"{target} — the lock cannot be read ({error}) — a lock is what `segmentkit review lock` wrote — lock "
            "again, or take it off with `segmentkit review unlock`"
        ) from error
    now = inputs(loaded, facts)
    changed = [name for name in was if name in now and was[name] != now[name]]
    changed += [f"{name} (gone)" for name in was if name not in now]
    changed += [f"{name} (new)" for name in now if name not in was]
    return LockFacts(version=version, by=by, on=on, changed=tuple(changed))
