"""What changed between two versions: beats, words, pictures, strokes, cards, music. Small shifts are told as shifts."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from segmentkit.timebase import label_of_frame, parse_rate

Data = dict[str, Any]
Run = tuple[str, str]
"""A stretch of words, and whether it stayed, went or came: "same", "gone", "new"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that differs.

    Attributes:
        kind: length, beat, picture, words, stroke, card, music or input.
        where: what a person calls the spot.
        what: what differs, old before new.
        beat: the beat it is in; empty for the whole segment.
        runs: changed words, stretch by stretch.
    """

    kind: str
    where: str
    what: str
    beat: str = ""
    runs: tuple[Run, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A frozen picture that looks different; `old` or `new` is the shot's id there, empty where it is missing."""

    name: str
    old: str
    new: str


def changes(old: Data, new: Data) -> tuple[Change, ...]:
    """What differs between two snapshots, in the order in which a person looks: the whole, then beat by beat."""
    found = [*_whole(old, new), *_beats(old, new)]
    found += _each(old, new, "shots", _by("id"), "picture", _shot_name, _shot_difference)
    found += _words(old, new)
    found += _each(old, new, "strokes", _by("id", "shot"), "stroke", _stroke_name, _stroke_difference)
    found += _each(old, new, "cards", _by("beat", "kind", "index"), "card", _card_name, _card_difference)
    order = {beat["id"]: index for index, beat in enumerate([*new["beats"], *old["beats"]])}
    kinds = ("length", "input", "beat", "picture", "words", "stroke", "card", "music")
    return tuple(sorted(found, key=lambda one: (order.get(one.beat, -1), kinds.index(one.kind))))


def _whole(old: Data, new: Data) -> Iterator[Change]:
    if (old["frames"], old["rate"]) != (new["frames"], new["rate"]):
        what = f"{_length(old)} → {_length(new)}"
        yield Change(kind="length", where="segment", what=what)
    was, now = old["inputs"], new["inputs"]
    for name in sorted({*was, *now} - {"storyboard"}):
        if was.get(name) != now.get(name):
            what = "new" if name not in was else "gone" if name not in now else "another file content"
            yield Change(kind="input", where=name, what=what)
    if old["music"] != new["music"]:
        yield Change(kind="music", where="music", what=f"{_music(old)} → {_music(new)}")


def _length(data: Data) -> str:
    rate = parse_rate(data["rate"])
    return f"{label_of_frame(data['frames'], rate)} at {rate}"


def _music(data: Data) -> str:
    rate = parse_rate(data["rate"])
    cues = [
        f"{cue['file']} {label_of_frame(cue['start'], rate)}–{label_of_frame(cue['start'] + cue['frames'], rate)} "
        f"{cue['levels'][0]:g}/{cue['levels'][1]:g} dB"
        for cue in data["music"]
    ]
    return ", ".join(cues) or "none"


def _beats(old: Data, new: Data) -> Iterator[Change]:
    was = {beat["id"]: beat for beat in old["beats"]}
    now = {beat["id"]: beat for beat in new["beats"]}
    for id_, beat in was.items():
        if id_ not in now:
            yield Change(kind="beat", where=f"beat {id_}", what=f"gone ({beat['frames']} frames)", beat=id_)
    for id_, beat in now.items():
        if id_ not in was:
            yield Change(kind="beat", where=f"beat {id_}", what=f"new ({beat['frames']} frames)", beat=id_)
        elif beat["frames"] != was[id_]["frames"]:
            change = beat["frames"] - was[id_]["frames"]
            what = f"{was[id_]['frames']} → {beat['frames']} frames ({change:+d})"
            yield Change(kind="beat", where=f"beat {id_}", what=what, beat=id_)
    stayed = [id_ for id_ in was if id_ in now]
    if stayed != [id_ for id_ in now if id_ in was]:
        yield Change(kind="beat", where="beats", what=f"order: {', '.join(stayed)} → {', '.join(now)}")


Key = Callable[[Data], tuple[object, ...]]


def _by(*names: str) -> Key:
    return lambda item: tuple(item[name] for name in names)


def _each(
    old: Data,
    new: Data,
    what: str,
    key: Key,
    kind: str,
    name: Callable[[Data], str],
    difference: Callable[[Data, Data], str],
) -> Iterator[Change]:
    was, now = ({key(item): item for item in data[what]} for data in (old, new))
    for key_, item in was.items():
        if key_ not in now:
            yield Change(kind=kind, where=name(item), what="gone", beat=item["beat"])
    for key_, item in now.items():
        if key_ not in was:
            yield Change(kind=kind, where=name(item), what="new", beat=item["beat"])
        elif told := difference(was[key_], item):
            yield Change(kind=kind, where=name(item), what=told, beat=item["beat"])


def _shot_name(shot: Data) -> str:
    return f"beat {shot['beat']}, shot {int(shot['id'].rsplit('/', 1)[1]) + 1}"


def _shot_difference(was: Data, now: Data) -> str:
    parts = [f"{was['what']} → {now['what']}"] if was["what"] != now["what"] else []
    if was["frames"] != now["frames"]:
        parts.append(f"{was['frames']} → {now['frames']} frames")
    return "; ".join(parts)


def _stroke_name(stroke: Data) -> str:
    return f"beat {stroke['beat']}, stroke {stroke['id']}"


def _stroke_difference(was: Data, now: Data) -> str:
    parts = [f"{was['what']} → {now['what']}"] if was["what"] != now["what"] else []
    if (was["where"], was["radius"]) != (now["where"], now["radius"]):
        parts.append("drawn elsewhere")
    return "; ".join([*parts, *_timing(was, now)])


def _card_name(card: Data) -> str:
    return f"beat {card['beat']}, {card['kind'].replace('_', ' ')}"


def _card_difference(was: Data, now: Data) -> str:
    parts = [f"“{was['text']}” → “{now['text']}”"] if was["text"] != now["text"] else []
    return "; ".join([*parts, *_timing(was, now)])


def _timing(was: Data, now: Data) -> list[str]:
    later, longer = now["start"] - was["start"], now["frames"] - was["frames"]
    parts = [f"{abs(later)} frames {'later' if later > 0 else 'earlier'} in its beat"] if later else []
    return parts + ([f"{abs(longer)} frames {'longer' if longer > 0 else 'shorter'}"] if longer else [])


def _words(old: Data, new: Data) -> Iterator[Change]:
    was, now = ({(line["beat"], line["line"]): line for line in data["speech"]} for data in (old, new))
    for key in dict.fromkeys([*was, *now]):
        before, after = was.get(key), now.get(key)
        first, second = (_texts(line) if line else [] for line in (before, after))
        shown = (after or before or {}).get("speaker", "")
        where = f"beat {key[0]}, {shown}"
        if first != second:
            runs = tuple(_runs(first, second))
            yield Change(kind="words", where=where, what=marked(runs), beat=key[0], runs=runs)
        elif before and after and before["speaker"] != after["speaker"]:
            what = f"spoken by {before['speaker']} → {after['speaker']}"
            yield Change(kind="words", where=where, what=what, beat=key[0])
        elif before and after and (told := "; ".join(_timing(before, after))):
            yield Change(kind="words", where=where, what=f"the reading: {told}", beat=key[0])


def _texts(line: Data) -> list[str]:
    return [word for word, _ in line["words"]]


def _runs(old: Sequence[str], new: Sequence[str]) -> Iterator[Run]:
    """Words that stayed, went and came."""
    for tag, a, b, c, d in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            yield " ".join(old[a:b]), "same"
            continue
        if b > a:
            yield " ".join(old[a:b]), "gone"
        if d > c:
            yield " ".join(new[c:d]), "new"


def marked(runs: Sequence[Run]) -> str:
    """Changed words as text: `[-gone-]` and `{+new+}`, long stretches that stayed shortened."""
    parts = []
    for text, how in runs:
        words = text.split()
        shown = f"{' '.join(words[:3])} … {' '.join(words[-3:])}" if how == "same" and len(words) > 8 else text
        parts.append({"same": shown, "gone": f"[-{text}-]", "new": f"{{+{text}+}}"}[how])
    return " ".join(parts)


def pairs(old: Data, new: Data) -> tuple[Pair, ...]:
    """The frozen pictures that look different, or are in one version only, in the order of the new one."""
    was, now = ({one["shot"]: one for one in data["freezes"]} for data in (old, new))
    found = [
        Pair(name=one["name"], old=shot if shot in was else "", new=shot)
        for shot, one in now.items()
        if shot not in was or was[shot]["sha256"] != one["sha256"]
    ]
    found += [Pair(name=one["name"], old=shot, new="") for shot, one in was.items() if shot not in now]
    return tuple(found)
