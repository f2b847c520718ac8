"""The process in which the guide voice speaks: `python -m segmentkit.media.guide_worker`.

The library keeps one global state and carries the GPL, so it is loaded here and nowhere else, and only when it is
installed. Talks in lines of JSON. In: {"voice", "rate", "text", "out"}. Out, after the sound was written to `out` as
16-bit mono WAV: {"samples", "hertz", "words": [[position, sample], ...], "sounds": [[position, sample, name], ...]},
where a position counts characters of the text from 0 and a sound is one phoneme. Or {"fault": ..., "near": [...]}.
"""

from __future__ import annotations

import contextlib
import ctypes
import difflib
import json
import sys
import wave
from collections.abc import Iterator
from typing import Any

_RETRIEVAL, _PHONEME_EVENTS, _RATE, _UTF8, _CHARACTERS = 1, 1, 1, 1, 1
_END, _WORD, _PHONEME = 0, 1, 7


class _Name(ctypes.Union):
    _fields_ = (("number", ctypes.c_int), ("name", ctypes.c_char_p), ("string", ctypes.c_char * 8))


class _Event(ctypes.Structure):
    _fields_ = (
        ("type", ctypes.c_int), ("unique", ctypes.c_uint), ("position", ctypes.c_int), ("length", ctypes.c_int),
        ("milliseconds", ctypes.c_int), ("sample", ctypes.c_int), ("user", ctypes.c_void_p), ("id", _Name),
    )  # fmt: skip


class _Voice(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char_p), ("languages", ctypes.POINTER(ctypes.c_char)), ("identifier", ctypes.c_char_p),
        ("gender", ctypes.c_ubyte), ("age", ctypes.c_ubyte), ("variant", ctypes.c_ubyte), ("x", ctypes.c_ubyte),
        ("score", ctypes.c_int), ("spare", ctypes.c_void_p),
    )  # fmt: skip


_Callback = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.POINTER(_Event))


class Speaker:
    """The library, loaded once. One reading at a time."""

    def __init__(self) -> None:
        import espeakng_loader  # noqa: PLC0415  the extra may be missing; the caller is told in its own words

        self._library = ctypes.CDLL(espeakng_loader.get_library_path())
        self._library.espeak_ListVoices.restype = ctypes.POINTER(ctypes.POINTER(_Voice))
        data = str(espeakng_loader.get_data_path()).encode()
        self.hertz = int(self._library.espeak_Initialize(_RETRIEVAL, 0, data, _PHONEME_EVENTS))
        if self.hertz <= 0:
            raise OSError("the guide voice's data could not be loaded")
        self._sound = bytearray()
        self._events: list[tuple[int, int, int, str]] = []
        self._callback = _Callback(self._collect)  # kept: the library holds only its address
        self._library.espeak_SetSynthCallback(self._callback)

    def answer(self, request: dict[str, Any]) -> dict[str, Any]:
        """Speaks one text and writes it; or says why not."""
        voice = str(request["voice"])
        if not self._choose(voice):
            known = sorted({name for names in self._voices() for name in names if name})
            base = voice.partition("+")[0]
            return {"fault": "voice", "near": difflib.get_close_matches(base, known, 4, 0.4)}
        self._library.espeak_SetParameter(_RATE, int(request["rate"]), 0)
        self._sound.clear()
        self._events.clear()
        text = str(request["text"]).encode()
        code = self._library.espeak_Synth(text, len(text) + 1, 0, _CHARACTERS, 0, _UTF8, None, None)
        self._library.espeak_Synchronize()
        if code != 0:
            return {"fault": f"speaking failed with code {code}", "near": []}
        with wave.open(str(request["out"]), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(self.hertz)
            out.writeframes(bytes(self._sound))
        return {
            "samples": len(self._sound) // 2,
            "hertz": self.hertz,
            "words": [[position, sample] for kind, position, sample, _ in self._events if kind == _WORD],
            "sounds": [[position, sample, name] for kind, position, sample, name in self._events if kind == _PHONEME],
        }

    def _choose(self, voice: str) -> bool:
        """Sets a voice by name or, as the library itself does not, by its language tag; variants such as +f3 stay."""
        if self._set(voice):
            return True
        base, plus, variant = voice.partition("+")
        for identifier, *tags in self._voices():
            if base.lower() in (tag.lower() for tag in tags):
                return self._set(f"{identifier}{plus}{variant}")
        return False

    def _set(self, name: str) -> bool:
        return int(self._library.espeak_SetVoiceByName(name.encode())) == 0

    def _voices(self) -> Iterator[list[str]]:
        """For each voice its identifier, then its language tags."""
        listed = self._library.espeak_ListVoices(None)
        index = 0
        while listed[index]:
            voice = listed[index].contents
            yield [(voice.identifier or b"").decode("utf-8", "replace"), *_tags(voice.languages)]
            index += 1

    def _collect(self, sound: Any, count: int, events: Any) -> int:
        if sound and count > 0:
            self._sound += ctypes.string_at(sound, count * 2)
        index = 0
        while events[index].type != _END:
            event = events[index]
            name = event.id.string.decode("utf-8", "replace") if event.type == _PHONEME else ""
            self._events.append((event.type, event.position - 1, event.sample, name))
            index += 1
        return 0


def _tags(packed: Any) -> Iterator[str]:
    """Language tags: each a byte of priority and a text ended by zero; a zero priority ends the list."""
    at = 0
    while packed and packed[at] != b"\0":
        at += 1
        text = bytearray()
        while packed[at] != b"\0":
            text += packed[at]
            at += 1
        at += 1
        yield text.decode("utf-8", "replace")


def main() -> None:
    """Answers requests until the input ends."""
    try:
        speaker = Speaker()
    except (ImportError, OSError, AttributeError) as error:
        missing = isinstance(error, ModuleNotFoundError)
        print(json.dumps({"fault": "missing" if missing else str(error), "near": []}), flush=True)
        return
    print(json.dumps({"hertz": speaker.hertz}), flush=True)
    for line in sys.stdin:
        try:
            reply = speaker.answer(json.loads(line))
        except (ValueError, KeyError, OSError) as error:
            reply = {"fault": f"{type(error).__name__}: {error}", "near": []}
        print(json.dumps(reply), flush=True)


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt, BrokenPipeError):
        main()
