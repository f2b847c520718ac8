"""The guide voice: speaks what is not recorded yet, and knows when each word starts.

It runs in a process of its own (see `guide_worker`), which is started at the first text that is not in the store.
"""

from __future__ import annotations

import contextlib
import importlib.metadata
import itertools
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import IO, Any, cast

import segmentkit
from segmentkit.errors import MediaUnusable
from segmentkit.media.store import Store

ANSWER_TIME = 60.0
"""Seconds after which a voice that does not answer is ended; it speaks a minute of text in a fifth of a second."""

_RECIPE = 1
_RATES = range(80, 451)  # what the library takes
_TOO_FAST = 1.094  # it speaks this much faster than its stated rate: 1.08 at 110 to 1.11 at 220, measured on 168 words
_TAIL = Fraction(15, 100)  # seconds kept after the last sound


class GuideMissing(MediaUnusable):
    """The guide voice is an extra that is not installed; words can still be timed by their pace."""


class GuideFailed(MediaUnusable):
    """The guide voice does not know the voice, did not answer, or ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideReading:
    """A line as the guide voice speaks it.

    Attributes:
        path: WAV file, mono.
        words: when each word of the script starts, in seconds from the start of the file.
        length: seconds up to a moment after the last sound.
    """

    path: Path
    words: tuple[Fraction, ...]
    length: Fraction


class GuideVoice:
    """Speaks lines, from the store where it can. Use as a context manager: it ends the process it started.

    Args:
        store: where readings are kept.
        answer_time: seconds to wait for one line.
    """

    def __init__(self, store: Store, *, answer_time: float = ANSWER_TIME) -> None:
        self._store = store
        self._answer_time = answer_time
        self._process: subprocess.Popen[str] | None = None
        self._replies: queue.Queue[str] = queue.Queue()
        self._stack = contextlib.ExitStack()

    def __enter__(self) -> GuideVoice:
        return self

    def __exit__(self, *exception: object) -> None:
        self.close()

    def close(self) -> None:
        """Ends the process, if one was started."""
        process, self._process = self._process, None
        if process is not None:
            with contextlib.suppress(OSError):
                process.kill()
            process.wait()
        self._stack.close()

    def speak(self, words: Sequence[str], voice: str, pace: float) -> GuideReading:
        """Reads a line.

        Args:
            words: of the script, in order.
            voice: its name or language tag, such as `en-us` or `en-gb`; a variant may follow, such as `en-us+f3`.
            pace: words a minute; held within what the voice can do.

        Raises:
            GuideMissing: when the extra is not installed.
            GuideFailed: for an unknown voice, or one that fails, ends or does not answer.
        """
        text = " ".join(" ".join(words).split())
        rate = min(max(round(pace / _TOO_FAST), _RATES[0]), _RATES[-1])
        inputs = (_library_version(), voice, rate, text)
        sound = self._store.path_for("guide", _RECIPE, *inputs, suffix=".wav")
        notes = self._store.path_for("guide", _RECIPE, *inputs, suffix=".json")

        def read(path: Path) -> GuideReading:
            if not sound.is_file():
                raise ValueError("the sound is gone")
            kept = json.loads(path.read_text(encoding="utf-8"))
            starts = tuple(Fraction(start, kept["hertz"]) for start in kept["words"])
            return GuideReading(path=sound, words=starts, length=Fraction(kept["length"], kept["hertz"]))

        def write(partial: Path) -> None:
            with self._store.writing(sound) as out:
                request = {"voice": voice, "rate": rate, "text": text, "out": str(out)}
                reply = self._ask(request)
                if fault := reply.get("fault"):
                    raise GuideFailed(_fault_text(voice, str(fault), reply["near"]))
            starts = word_starts(text, reply["words"], reply["sounds"], reply["samples"])
            last = _last_sound(reply["sounds"], reply["samples"])
            length = min(reply["samples"], last + int(_TAIL * reply["hertz"]))
            kept = {"words": starts, "length": length, "hertz": reply["hertz"], "text": text}
            partial.write_text(json.dumps(kept, ensure_ascii=False), encoding="utf-8")

        return self._store.make(notes, read, write)

    def sounds(self, word: str, voice: str) -> tuple[str, ...]:
        """The sounds of one word, by the library's own names for them; rests left out.

        Raises:
            GuideMissing: when the extra is not installed.
            GuideFailed: as in `speak`.
        """
        entry = self._store.path_for("sounds", _RECIPE, _library_version(), voice, word, suffix=".json")

        def read(path: Path) -> tuple[str, ...]:
            return tuple(str(name) for name in json.loads(path.read_text(encoding="utf-8")))

        def write(partial: Path) -> None:
            with tempfile.TemporaryDirectory() as folder:
                out = str(Path(folder) / "word.wav")
                reply = self._ask({"voice": voice, "rate": 150, "text": word, "out": out})
            if fault := reply.get("fault"):
                raise GuideFailed(_fault_text(voice, str(fault), reply["near"]))
            names = [name for _, _, name in reply["sounds"] if not name.startswith("_")]
            partial.write_text(json.dumps(names), encoding="utf-8")

        return self._store.make(entry, read, write)

    def _ask(self, request: dict[str, Any]) -> dict[str, Any]:
        if self._process is None:
            self._start()
        process = cast("subprocess.Popen[str]", self._process)
        try:
            entrance = cast("IO[str]", process.stdin)
            entrance.write(json.dumps(request) + "\n")
            entrance.flush()
        except OSError:
            self.close()
            raise GuideFailed(_ended_text()) from None
        return self._reply()

    def _start(self) -> None:
        """Starts the process; `-P` keeps files of the folder a person works in from being taken for modules."""
        home = str(Path(segmentkit.__file__).resolve().parent.parent)
        paths = [home, *filter(None, [os.environ.get("PYTHONPATH")])]
        self._replies = queue.Queue()
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "segmentkit.media.guide_worker"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, encoding="utf-8",
            env={**os.environ, "PYTHONPATH": os.pathsep.join(paths), "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        for stream in (self._process.stdin, self._process.stdout):
            self._stack.callback(_close, stream)
        listener = threading.Thread(target=_listen, args=(self._process.stdout, self._replies), daemon=True)
        listener.start()
        self._stack.callback(listener.join, 2.0)
        greeting = self._reply()
        if fault := greeting.get("fault"):
            self.close()
            raise (
                GuideMissing(_MISSING)
                if fault == "missing"
                else GuideFailed(
                    f"guide voice — could not be loaded ({fault}) — install it again, or write `guide: none`"
                )
            )

    def _reply(self) -> dict[str, Any]:
        try:
            line = self._replies.get(timeout=self._answer_time)
        except queue.Empty:
            self.close()
            raise GuideFailed(
                f"guide voice — gave no answer for {self._answer_time:g} s and was ended — a line takes less than"
                " a second — try again, or leave it out with `guide: none`"
            ) from None
        if not line:
            self.close()
            raise GuideFailed(_ended_text())
        return cast("dict[str, Any]", json.loads(line))


def word_starts(text: str, words: Sequence[Sequence[int]], sounds: Sequence[Sequence[Any]], samples: int) -> list[int]:
    """Gives every word of the text its first sample, from events that may join or split words.

    A word without an event of its own, such as the second of "in the", is set on the phoneme that lies as far between
    its neighbours as its letters do.

    Args:
        text: words with one space between.
        words: pairs of position and sample, as the worker gives them.
        sounds: triples of position, sample and phoneme name.
        samples: length of the whole reading.
    """
    spans: list[tuple[int, int]] = []
    for word in text.split(" "):
        at = spans[-1][1] + 1 if spans else 0
        spans.append((at, at + len(word)))
    starts: list[int | None] = [None] * len(spans)
    for position, sample in sorted(words, key=lambda event: (event[1], event[0])):
        index = next((k for k, (begin, end) in enumerate(spans) if begin <= position < end), None)
        if index is not None and starts[index] is None:
            starts[index] = sample
    known = [(k, start) for k, start in enumerate(starts) if start is not None]
    voiced = [sample for _, sample, name in sounds if not name.startswith("_")]
    known = [(-1, voiced[0] if voiced else 0), *known, (len(spans), _last_sound(sounds, samples))]
    result: list[int] = []
    for (before, start), (after, end) in itertools.pairwise(known):
        if before >= 0:
            result.append(start)
        missing = range(before + 1, after)
        inside = [sample for sample in voiced if start <= sample < end]
        letters = [max(1, sum(map(str.isalnum, text[slice(*spans[k])]))) for k in range(max(before, 0), after)]
        for k in missing:
            share = sum(letters[: k - max(before, 0)]) / sum(letters)
            near = round(share * len(inside))
            result.append(inside[near] if near < len(inside) else round(start + share * (end - start)))
    return [max(result[: k + 1]) for k in range(len(result))]


_MISSING = (
    "guide voice — the extra that speaks it is not installed — without it words are timed by their pace and nothing"
    ' speaks them — run: pip install "segmentkit[guide]"'
)


def _library_version() -> str:
    try:
        return importlib.metadata.version("espeakng-loader")
    except importlib.metadata.PackageNotFoundError:
        raise GuideMissing(_MISSING) from None


def _last_sound(sounds: Sequence[Sequence[Any]], samples: int) -> int:
    """Where the last phoneme that is heard ends: at the pause after it, else at the end."""
    last = max((k for k, (_, _, name) in enumerate(sounds) if not name.startswith("_")), default=None)
    following = sounds[last + 1 :] if last is not None else []
    return int(following[0][1]) if following else samples


def _fault_text(voice: str, fault: str, near: Sequence[str]) -> str:
    if fault != "voice":
        return f"guide voice {voice!r} — {fault} — it must speak the line — choose another voice, or `guide: none`"
    hint = f"did you mean {', '.join(near)}?" if near else "write a language tag such as en-us, en-gb, de, fr or sv"
    return f"guide voice {voice!r} — there is no such voice — a voice's name or a language tag is allowed — {hint}"


def _ended_text() -> str:
    return (
        "guide voice — its process ended without an answer — it must speak the line"
        " — try again, or leave it out with `guide: none`"
    )


def _listen(stream: IO[str], replies: queue.Queue[str]) -> None:
    with contextlib.suppress(OSError, ValueError):
        for line in stream:
            replies.put(line)
    replies.put("")


def _close(stream: IO[str] | None) -> None:
    if stream is not None:
        with contextlib.suppress(OSError):
            stream.close()
