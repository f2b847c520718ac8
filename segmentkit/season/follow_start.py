"""Starts the follow-up's storyboard: then, now and the demonstrator at the same moments, filled into a template."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

from segmentkit.errors import MediaUnusable, NotFit, StoryboardUnreadable
from segmentkit.media import safe
from segmentkit.season.follow import Pair
from segmentkit.season.follow_compare import Answer, Sighting
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.template import Template, Values, fill, load_template, values_of
from segmentkit.storyboard.values import merged
from segmentkit.storyboard.writing import write_yaml

TEMPLATE = "follow_up"
_NEAR = ("yes_close", "moved")


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """What was begun.

    Attributes:
        values: the file of values.
        storyboard: the storyboard; None while something is still wanted.
        wanted: what keeps it from being one, a line each.
    """

    values: Path
    storyboard: Path | None
    wanted: tuple[str, ...]


def start(
    pair: Pair, model: Sighting | None, folder: Path, given: Values, template: str = TEMPLATE
) -> Started:  # fmt: skip
    """Copies the clips, writes what is known as values, and the storyboard when nothing is wanted any more.

    Args:
        pair: the two clips, comparable.
        model: the demonstrator's clip.
        folder: of the new project; a storyboard that is there is not overwritten.
        given: values that only a person knows: topic, changed, not_yet, next ...; they come before what is known.
        template: its name or path.

    Raises:
        NotFit: when the clips are not comparable.
        StoryboardUnreadable: when the template has faults, or a storyboard is there already.
        MediaUnusable: when a clip cannot be read.
        OutputFailed: when the disk refuses.
    """
    if pair.compared.answer is Answer.NO:
        reasons = [ground.what for ground in pair.compared.grounds if ground.answer is Answer.NO]
        raise NotFit("\n".join(["nothing was started: the clips are not comparable", *reasons]))
    if (folder / "storyboard.yaml").exists():
        raise StoryboardUnreadable(
            f"{folder / 'storyboard.yaml'} — is there already — what a person has edited is not overwritten — name"
            " another folder"
        )
    form = load_template(template)
    data = known(pair, model)
    clips = {"then": pair.then, "now": pair.now, **({"model_swing": model} if model is not None else {})}
    for name, one in clips.items():
        data[name]["file"] = f"clips/{name}{one.file.suffix.lower()}"
        _copy(one.file, folder / data[name]["file"])
    every = given.over(values_of({name: value for name, value in data.items() if name in form.blanks}, "what is known"))
    wanted: tuple[str, ...] = ()
    text = ""
    try:
        text = fill(form, every, folder)
    except StoryboardUnreadable as error:
        wanted = tuple(str(fault).splitlines()[0] for fault in error.faults) or (str(error),)
    values = folder / "values.yaml"
    _write(values, _values_text(form, every, pair))
    if text:
        (folder / "takes").mkdir(exist_ok=True)  # where readings will lie
        _write(folder / "storyboard.yaml", _head(pair) + text)
    return Started(values=values, storyboard=folder / "storyboard.yaml" if text else None, wanted=wanted)


def known(pair: Pair, model: Sighting | None) -> dict[str, Any]:
    """What both clips and their records say, by the template's blanks."""
    then, now = pair.then, pair.now
    assert then.day is not None and now.day is not None  # noqa: PT018  comparable clips have dates
    data: dict[str, Any] = {
        "viewer": {"id": now.who, **_person(now.person, then.person)}, "then": _clip(then), "now": _clip(now),
        "then_date": then.day, "now_date": now.day, "same_camera": _NEAR[pair.compared.answer is Answer.WITH_CARE],
    }  # fmt: skip
    if model is not None:
        data |= {"model": {"id": model.who, **_person(model.person)}, "model_swing": _clip(model)}
    return data


def _person(person: Person, earlier: Person | None = None) -> dict[str, Any]:
    """A person as data. Of two releases only what both allow, for as long as both hold."""
    data: dict[str, Any] = _plain(person.model_dump(by_alias=True, exclude_none=True, exclude={"withdrawn"}))
    if not person.pain:
        data.pop("pain", None)
    release, old = person.release, earlier.release if earlier is not None else None
    if release is not None and old is not None:
        data["release"]["for"] = [scope.value for scope in release.for_ if scope in old.for_]
        ends = [one.until for one in (release, old) if one.until is not None]
        if ends:
            data["release"]["until"] = min(ends)
    return data


def _clip(one: Sighting) -> dict[str, Any]:
    data: dict[str, Any] = {"file": "", "view": one.view.value}
    if one.captured:
        data["captured"] = one.captured
    if one.mirrored:
        data["mirrored"] = True
    if one.yaw is not None:
        data["camera"] = {"yaw": f"{one.yaw[0]:g} deg", "within": f"{one.yaw[1]:g} deg"}
    if one.positions:
        data["positions"] = dict(one.positions)
    if one.points:
        data["points"] = {
            position: {name: [round(point.x, 4), round(point.y, 4)] for name, point in spots.items()}
            for position, spots in one.points.items()
        }
    return data


def _plain(value: Any) -> Any:
    match value:
        case Enum():
            return value.value
        case Mapping():
            return {str(key): _plain(inner) for key, inner in value.items()}
        case tuple() | list():
            return [_plain(inner) for inner in value]
        case bool() | str() | int() | float() | Fraction() | datetime.date():
            return value
        case _:
            return str(value)


def _values_text(form: Template, every: Values, pair: Pair) -> str:
    """What is known as YAML, and above what is wanted a line of help each."""
    text = write_yaml(merged([tree for _, tree in every.layers]))
    lines = ["# What is known of the follow-up. Fill in what is wanted; positions are proposals until you have looked."]
    lines += [f"# {ground.answer.value}: {ground.what}" for ground in pair.compared.grounds]
    lines += [f"# say or leave out: {one}" for one in pair.compared.without]
    open_ = [name for name in form.needed if name not in every]
    more = ["", "# Wanted:"] if open_ else []
    for name in open_:
        more += [f"# {form.blanks[name].help}", f"{name}:"]
    return "\n".join([*lines, "", text.rstrip(), *more]) + "\n"


def _head(pair: Pair) -> str:
    then, now = pair.then.day, pair.now.day
    lines = [f"# Then is {then}, now is {now}: {pair.compared.answer.value}."]
    lines += [f"# {ground.what}" for ground in pair.compared.grounds if ground.answer is Answer.WITH_CARE]
    lines += [f"# Say or leave out: {one}." for one in pair.compared.without]
    return "\n".join(lines) + "\n"


def _copy(source: Path, target: Path) -> None:
    """Copies a clip whole or not at all.

    Raises:
        MediaUnusable: when it cannot be read.
        OutputFailed: when the disk refuses.
    """
    if not source.is_file():
        raise MediaUnusable(f"{source} — there is no such file — check the name, or put the file there")
    with safe.writing(target) as partial:
        shutil.copyfile(source, partial)


def _write(path: Path, text: str) -> None:
    with safe.writing(path) as partial:
        partial.write_text(text, "utf-8", newline="")
