"""The key reference: every key of a storyboard in tables, made from the models themselves."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from types import NoneType
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.storyboard import people, sheet, shots
from segmentkit.storyboard.explain import bare
from segmentkit.storyboard.fields import Takes
from segmentkit.storyboard.leaders import Slate
from segmentkit.storyboard.model import Beat, Cut, Framing, Segment, Storyboard
from segmentkit.storyboard.profile_codings import Picture, Sound
from segmentkit.storyboard.profiles import Profile, delivery, delivery_names
from segmentkit.storyboard.schema import as_written

SECTIONS: tuple[tuple[str, str, tuple[type[BaseModel], ...]], ...] = (
    ("The file", "What stands at the left edge.", (Storyboard,)),
    ("The segment", "What is made.", (Segment,)),
    ("People and releases", "Nothing of a person is rendered without a release.", (people.Person, people.Release)),
    (
        "Clips and stills",
        "Paths start at the storyboard's folder and stay within it.",
        (people.Clip, people.Camera, people.Still),
    ),
    ("Voices and music", "Who speaks, and what sounds beneath.", (people.Speaker, people.Voice, people.Music)),
    (
        "Licences", "What somebody else made is used by permission: music, and stills and clips that are not your own.",
        (people.Licence,),
    ),
    ("Beats", "The story, one beat after the other.", (Beat,)),
    (
        "Shots",
        "What a beat shows, in order. Each shot has exactly one of the keys of the first table.",
        (shots.ShotSpec, shots.Run, shots.Freeze, shots.Split, shots.ThreeUp, shots.Overlay, shots.Wipe, shots.Side,
         shots.Inset, shots.Push, shots.StillShot, shots.Title, shots.EndBoard, shots.Ground, shots.Enter),
    ),
    (
        "Strokes",
        "What is drawn. Each stroke has exactly one kind, `line` to `shade`, and starts on the word after its `[id]`.",
        (shots.StrokeSpec, shots.Disc),
    ),
    (
        "Cards",
        "Text over the picture. Each card has exactly one of the keys of the first table.",
        (shots.CardSpec, shots.LowerThird, shots.ListCard, shots.DrillCard, shots.TextCard),
    ),
    ("The slate", "What stands on a master's slate beside title and length.", (Slate,)),
    ("The take-home sheet", "What the viewer gets on paper.", (sheet.Sheet,)),
    (
        "Cuts",
        "Other versions, which some profiles deliver. A beat of a cut's own is written as any other, with a name that "
        "no other beat of the file has; its takes are found by it.",
        (Cut, Framing),
    ),
    (
        "A profile of your own",
        "A file, named by its path in `deliver`: `deliver: [web, profiles/house.yaml]`. The delivery is called as the "
        "file. The shipped ones in `templates/profiles` are written alike.",
        (Profile, Picture, Sound),
    ),
)  # fmt: skip

VALUES: tuple[tuple[str, str], ...] = (
    ("length", "`4s`, `4.5s`, `400ms`, `1:30`, `1:30.5`, or a label at the segment's rate: `00:01:30:12`; "
               "`00:01:30;12` counts in drop-frame, at 30000/1001 and 60000/1001 only."),
    ("time or frame", "As a length, from the start of the clip; or `f218`, a frame of the clip counted from 0."),
    ("position, time or frame", "The name of one of the clip's positions, `start`, `end`, a time or a frame."),
    ("hold", "`6s` is exact; `6s..13s` lets the fit choose; `6s..8s..13s` says what is best as well."),
    ("speed", "Of real time: `1`, `1/2`, `1/8`, `0.25`, or `real`, `half`, `quarter`, `eighth`."),
    ("rate", "Frames a second: `25`, `50`, `24000/1001`, `30000/1001`, `120 fps`."),
    ("size", "Width x height in pixels, both even: `1920x1080`, `1080x1920`."),
    ("[x, y]", "Fractions of the upright picture: `[0, 0]` is its top left corner, `[1, 1]` its bottom right one."),
    ("point", "`[x, y]`, or the name of a point: `address.belt`; `belt` alone is that of the position shown."),
    ("words", "Text with `[id]` before the word on which a stroke or card starts; or a list of `speaker: text`, "
              "`pause: 0.5s` and `overlap: 0.3s`. Words in braces may be left out when time is short: "
              "`{And don't mind the lines.}`. Write it below a `>` when it is long or has a `:`."),
    ("name", "A lower-case letter, then letters, digits, `_` or `-`; at most 48."),
    ("path", "From the storyboard's folder, with `/`; never outside it."),
    ("yes or no", "`yes`, `no`, `true` or `false`."),
    ("date", "Year, month, day: `2028-06-30`."),
    ("beat, or a name", "The name of one of the segment's beats, or a whole beat of the cut's own."),
    ("preset", "A word from `ultrafast` to `veryslow`, or a number."),
    ("coding, or none", "The keys of sound, or `none` for a file without any."),
)  # fmt: skip

EXAMPLE = """\
segmentkit: 1
segment: {title: Hips toward the ball, slot: 0:30, rate: 25}
people:
  marta: {shown: Marta, adult: yes, release: {for: [broadcast, web], until: 2028-06-30, by: Marta}}
clips:
  swing:
    file: clips/swing.mp4
    person: marta
    view: down-the-line
    positions: {address: 0.42s, top: 1.55s, impact: f218}
    points:
      address: {belt: [0.46, 0.52], heel: [0.43, 0.86]}
beats:
  - beat: address
    say: At address, we draw [hip_line] a line behind her hips.
    show:
      - freeze: {clip: swing, at: address, hold: 5s..9s}
    strokes:
      hip_line: {line: [address.belt, [0.46, 0.90]]}
  - beat: impact
    say: >
      Stop it at impact: there is [hip_gap] daylight between her hips and that line.
    show:
      - run: {clip: swing, from: top, to: impact, speed: 1/8}
      - freeze: {clip: swing, at: impact, hold: 6s..20s}
    keep: [hip_line]
    strokes:
      hip_gap: {double_arrow: [[0.47, 0.52], [0.52, 0.52]], role: fault}
deliver: [broadcast, web]
"""


_TITLES = {
    "still shot": "still in a shot",
    "disc": "ring and shade",
    "list card": "lists",
    "drill card": "drill",
    "text card": "short texts",
}


def key_reference() -> str:
    """The reference as Markdown: every key with what it takes, its default and what it means."""
    parts = [
        "# Storyboard keys",
        "A storyboard is a YAML text, in UTF-8. Every value is read as plain text first, so `1:30`, `yes` and `012` "
        "mean what they look like. A key that is not listed here is a fault. This page is made from the models; "
        "`segmentkit schema --write` makes it anew.",
        "## An example",
        f"```yaml\n{EXAMPLE}```",
    ]
    for heading, lead, models in SECTIONS:
        parts += [f"## {heading}", lead]
        for model in models:
            if len(models) > 1:
                parts += [f"### {_title(model)}", (model.__doc__ or "").strip().split("\n\n")[0]]
            parts.append(key_table(model))
    parts += ["## Values", "\n".join(f"- **{name}** — {meaning}" for name, meaning in VALUES)]
    parts += ["## Profiles for `deliver`", "\n".join(_profiles())]
    return "\n\n".join(parts) + "\n"


def _title(model: type[BaseModel]) -> str:
    """A model's name as a reader would say it."""
    name = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", model.__name__.removesuffix("Spec")).lower()
    return _TITLES.get(name, name).capitalize()


def _link(model: type[BaseModel]) -> str:
    """A link to a model's table; where a section has one table only, its heading is the section's."""
    alone = {models[0]: heading for heading, _, models in SECTIONS if len(models) == 1}
    heading = alone.get(model, _title(model))
    return f"[{_title(model).lower()}](#{heading.lower().replace(' ', '-')})"


def key_table(model: type[BaseModel]) -> str:
    """A table of a mapping's keys, in Markdown."""
    rows = ["| Key | Takes | When left out | Meaning |", "|---|---|---|---|"]
    for name, info in model.model_fields.items():
        cells = (f"`{info.alias or name}`", takes_text(info), _left_out(info), info.description or "")
        rows.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(rows)


def takes_text(info: FieldInfo) -> str:
    """What a key takes, in words."""
    own = next((part for part in info.metadata if isinstance(part, Takes)), None)
    return own.words if own else _words(info.annotation)


def _words(kind: Any) -> str:
    if get_origin(kind) is Annotated:
        own = next((part for part in get_args(kind) if isinstance(part, Takes)), None)
        return own.words if own else _words(get_args(kind)[0])
    inner = [part for part in get_args(kind) if part is not NoneType]
    match bare(kind):
        case type() as model if issubclass(model, BaseModel):
            return _link(model)
        case type() as choice if issubclass(choice, Enum):
            return ", ".join(f"`{member.value}`" for member in choice)
        case _ if get_origin(kind) is tuple:
            return f"list: {_words(inner[0])}"
        case _ if get_origin(kind) is dict:
            return f"by name: {_words(inner[1])}"
        case _:
            return _words(inner[0]) if inner else str(kind)


def _left_out(info: FieldInfo) -> str:
    if info.is_required():
        return "**needed**"
    default = as_written(info.default)
    if default is None or default == []:
        return "–"
    parts = default if isinstance(default, list) else [default]
    return ", ".join(f"`{part:g}`" if isinstance(part, float) else f"`{part}`" for part in parts)


def _profiles() -> Iterator[str]:
    heads = "Profile | Releases must allow | What it is | Loudness, true peak at most | Version | Picture | Sound"
    yield f"| {heads} | File |"
    yield "|---|---|---|---|---|---|---|---|"
    for name in delivery_names():
        made = delivery(name)
        loud = f"{made.loudness:g} LUFS, {made.true_peak:g} dBTP"
        yield (
            f"| `{name}` | `{made.scope}` | {made.what} | {loud} | {version_text(made)} | {picture_text(made.picture)} "
            f"| {sound_text(made.sound)} | `{made.container}` |"
        )


def version_text(made: Delivery) -> str:
    """Which version a delivery holds, in a few words."""
    limits = [
        f"{word} {float(seconds):g} s"
        for word, seconds in (("at least", made.shortest), ("at most", made.longest))
        if seconds is not None
    ]
    parts = [
        "the whole" if made.cut is None else f"cut `{made.cut}`",
        None if made.size is None else str(made.size),
        None if made.rate is None else f"{made.rate} a second",
        None if made.fields is None else f"interlaced, {made.fields} field first",
        "no text, no strokes" if made.clean else None,
        "captions burned in" if made.burned else None,
        None if made.leader is None else f"leader {made.leader}",
        *limits,
    ]
    return ", ".join(part for part in parts if part)


def picture_text(coding: PictureCoding) -> str:
    """How pictures are coded, in a few words."""
    parts = [
        coding.codec,
        coding.profile if coding.profile not in {"", coding.codec} else None,
        coding.pixels,
        f"preset {coding.preset}" if coding.preset else None,
        None if coding.quality is None else f"quality {coding.quality}",
        None if coding.bit_rate is None else f"{coding.bit_rate / 1_000_000:g} Mbit/s",
    ]
    return ", ".join(part for part in parts if part)


def sound_text(coding: SoundCoding | None) -> str:
    """How sound is coded, in a few words."""
    if coding is None:
        return "none"
    return f"{coding.codec}, 24 bit" if coding.bit_rate is None else f"{coding.codec}, {coding.bit_rate // 1000} kbit/s"
