"""The format as a JSON Schema, so that an editor can complete keys and mark faults while a person types."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from segmentkit.geometry import Size
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Rate

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def as_written(default: object) -> Any:
    """A default as a producer would write it; None where there is nothing to write."""
    match default:
        case bool():
            return "yes" if default else "no"
        case Rate() | Size() | Fraction():
            return str(default)
        case tuple():
            return [as_written(item) for item in default]
        case int() | float() | str():
            return default
        case _:
            return getattr(default, "value", None)


class _Schema(GenerateJsonSchema):
    """Schemas of texts: defaults as they are written, and no `null` beside each key that may be left out."""

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        default = as_written(schema.get("default"))
        return inner if default is None or default == [] else {**inner, "default": default}

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        made = super().dict_schema(schema)
        if "patternProperties" in made:
            made.pop("propertyNames", None)
            made["additionalProperties"] = False
        return made

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002  no title says more than its key
        return False


def json_schema() -> dict[str, object]:
    """The schema of a storyboard, JSON Schema 2020-12, with descriptions, limits and examples."""
    schema = Storyboard.model_json_schema(by_alias=True, schema_generator=_Schema)
    return {
        "$schema": DIALECT,
        **{**schema, "title": "segmentkit storyboard", "description": "A teaching segment, as a producer writes it."},
    }


def schema_text() -> str:
    """The schema as it stands in `templates/storyboard.schema.json`."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
