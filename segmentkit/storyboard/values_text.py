"""The file of values that somebody fills in: every blank with its help, what is needed first."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from collections.abc import Mapping as Mappings

from segmentkit.storyboard.blanks import Blank, BlankKind
from segmentkit.storyboard.presets import Preset, shipped_presets
from segmentkit.storyboard.template import Template
from segmentkit.storyboard.writing import scalar

_WIDTH = 116


def values_text(
    template: Template,
    known: Mappings[str, str] | None = None,
    preset: Preset | None = None,
    filled: Mappings[str, object] | None = None,
) -> str:
    """A file of values to be filled in.

    Args:
        template: whose blanks.
        known: blanks that are filled in elsewhere, each with where; they are mentioned only.
        preset: the fault that was chosen already, whose points the player's clip needs.
        filled: values to write into it, as plain data.
    """
    known, filled = known or {}, filled or {}
    length = f" ({template.length})" if template.length else ""
    lines = [
        *_comment(f"Values for the template `{template.name}`{length}. {template.about}"),
        "# Fill in what stands below, then call `segmentkit new` again. A line that stays empty counts as not given.",
    ]
    if known:
        told = ", ".join(f"{name} ({where})" for name, where in known.items())
        lines += _comment(f"Known already, and no need to write it again: {told}")
    open_ = {name: blank for name, blank in template.blanks.items() if name not in known}
    needed = {name: blank for name, blank in open_.items() if blank.must}
    if needed:
        lines += ["", "# ---- Needed"]
        for name, blank in needed.items():
            lines += ["", *_comment(_help(blank)), *_asked(name, blank, preset, filled.get(name))]
    rest = {name: blank for name, blank in open_.items() if not blank.must}
    if rest:
        lines += ["", "# ---- May stay as it is: take the # away to change it"]
        for name, blank in rest.items():
            default = "" if blank.default is None else scalar(" ".join(str(blank.default).split()), flow=False)
            written = f"{name}: {_value(filled[name])}" if name in filled else f"# {name}: {default}".rstrip()
            lines += ["", *_comment(_help(blank)), written]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(text, _WIDTH, break_long_words=False, break_on_hyphens=False)]


def _help(blank: Blank) -> str:
    limits = "" if blank.most_words is None else f" At most {blank.most_words} words."
    example = "" if blank.example is None else f" Such as: {blank.example}"
    return f"{blank.help}{_alternatives(blank)}{limits}{example}"


def _alternatives(blank: Blank) -> str:
    match blank.kind:
        case BlankKind.CHOICE:
            of = (blank.of or {}).items()
            told = "; ".join(name if name.replace("_", " ") == text else f"{name} = {text}" for name, text in of)
            return f" One of: {told}{'; or your own words' if blank.own else ''}."
        case BlankKind.FAULT:
            return f" One of: {', '.join(shipped_presets())}; or one of your own in the folder faults."
        case BlankKind.YES_NO:
            return " yes or no."
        case BlankKind.DATE:
            return " Year-month-day."
        case _:
            return ""


def _asked(name: str, blank: Blank, preset: Preset | None, filled: object) -> Iterator[str]:
    """The lines of a needed blank, with what is filled in already."""
    keys = filled if isinstance(filled, dict) else {}
    alone = " ".join(filled.split()) if isinstance(filled, str) else ""
    match blank.kind:
        case BlankKind.PERSON:
            yield f"{name}:"
            yield from _keys(
                {"shown": "", "place": "", "handed": "right or left", "club": ""}, {"shown": alone, **keys}
            )
            yield from _keys({"adult": "yes or no; without yes a guardian must have signed"}, keys)
            if "release" in keys:
                yield f"  release: {_value(keys['release'])}"
            else:
                yield "  release: {for: [], by: }   # what it allows, such as [broadcast, web], and who signed it"
        case BlankKind.LICENCE if not keys:
            yield f"{name}: {{for: [], by: {alone}}}   # what it covers, such as [broadcast, web], and who gave it"
        case BlankKind.CLIP:
            yield f"{name}:"
            yield from _keys({"file": ""}, {"file": alone, **keys})
            if len(blank.view) != 1:
                yield from _keys({"view": "down-the-line, face-on, rear, overhead, close-up or other"}, keys)
            yield from _positions(blank, keys.get("positions"))
            yield from _points(blank, preset, keys.get("points"))
        case _:
            yield f"{name}: {_value(filled)}".rstrip()


def _keys(asked: dict[str, str], given: Mappings[str, object]) -> Iterator[str]:
    for key, hint in asked.items():
        value = _value(given.get(key))
        yield f"  {key}: {value}".rstrip() + (f"   # {hint}" if hint and not value else "")


def _value(value: object) -> str:
    """What is filled in, on one line."""
    match value:
        case None | "":
            return ""
        case dict():
            return "{" + ", ".join(f"{scalar(key, flow=True)}: {_value(part)}" for key, part in value.items()) + "}"
        case list():
            return "[" + ", ".join(_value(part) for part in value) + "]"
        case _:
            return scalar(" ".join(str(value).split()), flow=True)


def _positions(blank: Blank, given: object) -> Iterator[str]:
    if given:
        yield f"  positions: {_value(given)}"
    elif blank.positions:
        yield "  positions:   # each a time such as 1.55s, or a frame such as f218"
        yield from (f"    {position}:" for position in blank.positions)
    else:
        yield "  positions: {}   # by name: a time such as 1.55s, or a frame such as f218"


def _points(blank: Blank, preset: Preset | None, given: object) -> Iterator[str]:
    if given:
        yield f"  points: {_value(given)}"
    elif blank.points:
        yield "  points:   # each [x, y] in fractions of the upright picture"
        for position, spots in blank.points.items():
            yield f"    {position}:"
            yield from (f"      {spot}:" for spot in spots)
    else:
        yield "  points: {}   # by position and name, such as address: {belt: [0.46, 0.52]}"
    if preset is not None and not given:
        for position, wanted in preset.points.items():
            told = "; ".join(f"{point}, {how}" for point, how in wanted.items())
            yield from (f"  {line}" for line in _comment(f"Where the fault is drawn, at {position}: {told}"))
