"""Fills the house's words with the numbers of the limits file, strictly: a word that is not known is an error."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.limits_file import IntakeLimits

_FIELD = re.compile(r"\{([a-z_]+)\}")


def limit_fields(limits: IntakeLimits) -> dict[str, str]:
    """Each limit as text by its name, and some as people say them: whole frames a second, centimetres."""
    fields = {name: f"{getattr(limits, name):g}" for name in type(limits).model_fields}
    return fields | {
        "fps_good": _said(limits.rate_good), "fps_impact": _said(limits.rate_impact),
        "height_cm": f"{100 * limits.height:.0f}",
    }  # fmt: skip


def _said(rate: float) -> str:
    """A limit such as 59, which lets 59.94 pass, as the rate that people know."""
    return f"{5 * math.ceil(rate / 5)}"


def filled(text: str, fields: Mapping[str, str], name: str) -> str:
    """A text with its fields filled in.

    Args:
        text: with fields such as `{name}`; any other brace stays.
        fields: values by name.
        name: what errors call the text.

    Raises:
        StoryboardUnreadable: when a field has no value; all of them are named at once.
    """
    missing = sorted({field for field in _FIELD.findall(text) if field not in fields})
    if missing:
        known = ", ".join(sorted(fields))
        raise StoryboardUnreadable(
            f"{name} — has {', '.join('{' + field + '}' for field in missing)} and nothing to put there —"
            f" there are {known} — give the value with --set, or take the field out"
        )
    return _FIELD.sub(lambda match: fields[match[1]], text)
