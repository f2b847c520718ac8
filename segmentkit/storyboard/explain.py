"""Validation errors in the words of the house, each at its spot in the text."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Node
from segmentkit.storyboard.faults import Fault, Source, listed, nearest, suggestion
from segmentkit.storyboard.fields import MisreadError

_MANY_KEYS = 14


def explain(error: ValidationError, model: type[BaseModel], tree: Node, source: Source) -> list[Fault]:
    """One fault for each thing that validation found.

    Args:
        error: what pydantic raised.
        model: the model that was being read.
        tree: the located tree of the text.
        source: the text.
    """
    found = error.errors(include_url=False, include_input=True)
    misspelt = set(_misspelt(found, model))
    return [_fault(details, model, tree, source) for details in found if not _only_follows(details, misspelt)]


def _misspelt(found: list[ErrorDetails], model: type[BaseModel]) -> Iterator[tuple[str | int, ...]]:
    """Paths of keys that are probably there, but misspelt."""
    for details in found:
        *parent, key = details["loc"] or ("",)
        if details["type"] == "extra_forbidden" and (close := nearest(str(key), _known_keys(_type_at(model, parent)))):
            yield (*parent, close)


def _only_follows(details: ErrorDetails, misspelt: set[tuple[str | int, ...]]) -> bool:
    """Whether a fault comes from another that is reported as well.

    A list seems too short when its items have faults of their own, and a misspelt key makes the right one missing.
    """
    if details["type"] == "too_short":
        return bool(len(details["input"] or ()) >= details["ctx"]["min_length"])
    return details["type"] == "missing" and details["loc"] in misspelt


def _fault(details: ErrorDetails, model: type[BaseModel], tree: Node, source: Source) -> Fault:
    path = [step for step in details["loc"] if step != "[key]"]
    start, end = locate.inner_spot(locate.find(tree, path))
    place_of = path
    match details["type"]:
        case "missing":
            place_of = path[:-1]
            start, end = locate.inner_spot(locate.find(tree, place_of))
            message = _missing(str(path[-1]), _type_at(model, place_of))
        case "extra_forbidden":
            start, end = locate.key_spot(tree, path)
            place_of = path[:-1]
            message = _unknown_key(str(path[-1]), _type_at(model, place_of))
        case "value_error":
            problem = details["ctx"]["error"]
            if isinstance(problem, MisreadError):
                path = [*path, *problem.path]
                start, end = source.narrowed(locate.inner_spot(locate.find(tree, path)), problem.literal)
                place_of = path
            elif "[key]" in details["loc"]:
                start, end = locate.key_spot(tree, path)
            message = str(problem)
        case "enum" | "literal_error":
            message = _not_among(details["input"], _choices(_type_at(model, path)))
        case _:
            message = _plain_words(details, _type_at(model, path))
    return source.fault(start, end, message, locate.where(tree, place_of))


def _missing(key: str, model: Any) -> str:
    message = f"`{key}` is missing"
    if _is_model(model):
        for name, info in model.model_fields.items():
            if key in {name, info.alias} and info.description:
                return f"{message} — {info.description[0].lower()}{info.description[1:].rstrip('. ')}"
    return f"{message} — add it"


def _unknown_key(key: str, model: Any) -> str:
    known = _known_keys(model)
    if not key.strip():
        return "a key is missing before the ':'"
    if close := nearest(key, known):
        return f"`{key}` is not a key here — did you mean `{close}`?"
    return f"`{key}` is not a key here — {suggestion(key, known[:_MANY_KEYS])}"


def _not_among(value: object, choices: list[str]) -> str:
    if value is None:
        return f"nothing is written here — write {listed(choices)}"
    if not isinstance(value, str):
        return f"{_shape(value)} stands here — write {listed(choices)}"
    if close := nearest(value, choices):
        return f"{_quoted(value)} is not known here — did you mean `{close}`? ({', '.join(choices)})"
    return f"{_quoted(value)} is not known here — write {listed(choices)}"


def _plain_words(details: ErrorDetails, wanted: Any) -> str:
    value, context = details["input"], details.get("ctx", {})
    match details["type"]:
        case "too_short":
            message = f"has {_count(context['actual_length'])} — at least {context['min_length']} must be there"
        case "too_long":
            message = f"has {_count(len(value))} — at most {context['max_length']} may be there"
        case "model_type" | "dict_type":
            message = f"{_shape(value)} stands here — write keys with values{_example_keys(wanted)}"
        case "tuple_type" | "list_type":
            message = f"{_shape(value)} stands here — write a list: [a, b], or a line `- a` for each"
        case "string_pattern_mismatch":
            message = f"{_quoted(str(value))} is not allowed here — it must fit {context['pattern']}"
        case _:
            message = f"{_shape(value)} cannot stand here"
    return message


def _example_keys(wanted: Any) -> str:
    if not _is_model(wanted):
        return ""
    needed = [info.alias or name for name, info in wanted.model_fields.items() if info.is_required()]
    return f", such as {', '.join(f'`{key}:`' for key in (needed or list(keys_of(wanted)))[:4])}"


def _count(number: int) -> str:
    return "nothing" if number == 0 else "1 entry" if number == 1 else f"{number} entries"


def _quoted(text: str) -> str:
    return f"'{text if len(text) <= 40 else text[:39] + '…'}'"


def _shape(value: object) -> str:
    match value:
        case None:
            return "nothing"
        case str():
            return f"the text {_quoted(value)}"
        case list():
            return "a list"
        case dict():
            return "a mapping"
        case _:
            return str(value)


def _known_keys(kind: Any) -> list[str]:
    return list(keys_of(kind)) if _is_model(kind) else []


def keys_of(model: type[BaseModel]) -> Iterator[str]:
    """The keys of a mapping as they are written."""
    for name, info in model.model_fields.items():
        yield info.alias or name


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def bare(annotation: Any) -> Any:
    """A type without its annotations and without `| None`."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in {Union, UnionType}:
            rest = [part for part in get_args(annotation) if part is not NoneType]
            if len(rest) != 1:
                return annotation
            annotation = rest[0]
        else:
            return annotation


def _type_at(model: Any, path: locate.Path) -> Any:
    """The type that a model expects at a path."""
    kind: Any = model
    for step in path:
        kind = bare(kind)
        if _is_model(kind):
            info = next((i for n, i in kind.model_fields.items() if step in {n, i.alias}), None)
            kind = info.annotation if info else Any
        elif get_origin(kind) is dict:
            kind = get_args(kind)[1]
        elif get_origin(kind) in {tuple, list}:
            kind = get_args(kind)[0]
        else:
            return Any
    return bare(kind)


def _choices(kind: Any) -> list[str]:
    if isinstance(kind, type) and issubclass(kind, Enum):
        return [str(member.value) for member in kind]
    if get_origin(kind) is Literal:
        return [str(value) for value in get_args(kind)]
    return []
