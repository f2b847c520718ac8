"""Flashes that can harm: general, red, and long rows of them; by one form of luminance, and by another as a check."""

from __future__ import annotations

from segmentkit.checks.qc_check import Answer, Mark, marked, qc_check
from segmentkit.checks.qc_wanted import Wanted
from segmentkit.findings import Severity
from segmentkit.screened import Flashing, FlashKind, LightModel, Screened

_REMEDY = "replace the flashes by a dip to at most half the light, or by a plain cut"
_PLACE = "a quarter of the picture"


def _found(measured: Screened, kind: FlashKind, model: LightModel, *, sustained: bool) -> list[Flashing]:
    return [
        one for one in measured.pictures.flashes if (one.kind, one.model, one.sustained) == (kind, model, sustained)
    ]


def _count(changes: int) -> str:
    flashes, half = divmod(changes, 2)
    return f"{flashes}{'½' if half else ''} flashes"


def _mark(one: Flashing, what: str, severity: Severity = Severity.ERROR) -> Mark:
    return Mark(
        what=what, remedy=_REMEDY, span=one.span, area=one.area, severity=severity,
        numbers=(("changes_in_a_second", one.changes),),
    )  # fmt: skip


@qc_check(
    "qc-flashes", "Flashes",
    limit="at most 3 in any second on more than a quarter of the picture; a flash is a pair of opposing changes of "
    "0.10 relative luminance or more, the darker state below 0.80",
    source="WCAG 2.2, general flash; the area by ITU-R BT.1702",
)  # fmt: skip
def general(measured: Screened, wanted: Wanted) -> Answer:
    """More than three flashes in a second can start a seizure.

    This is the verdict; it is measured with the relative luminance of WCAG 2.2, the stricter form in the dark.
    """
    del wanted
    found = _found(measured, FlashKind.GENERAL, LightModel.RELATIVE, sustained=False)
    marks = [
        _mark(one, f"{_count(one.changes)} within a second on more than {_PLACE} — at most 3 are allowed")
        for one in found
    ]
    return marked(f"{_count(max(one.changes for one in found))} in a second" if found else "3 or fewer", marks)


@qc_check(
    "qc-red-flashes", "Red flashes",
    limit="at most 3 in any second on more than a quarter of the picture; one state R/(R+G+B) of 0.8 or more, the two "
    "more than 0.2 apart in u'v'",
    source="WCAG 2.2, red flash; CIE 1976 UCS; the area by ITU-R BT.1702",
)  # fmt: skip
def red(measured: Screened, wanted: Wanted) -> Answer:
    """Changes to and from saturated red harm at any brightness."""
    del wanted
    found = _found(measured, FlashKind.RED, LightModel.RELATIVE, sustained=False)
    marks = [
        _mark(one, f"{_count(one.changes)} with saturated red within a second on more than {_PLACE} — at most 3 are "
                   "allowed")
        for one in found
    ]  # fmt: skip
    return marked(f"{_count(max(one.changes for one in found))} in a second" if found else "3 or fewer", marks)


@qc_check(
    "qc-flashes-sustained", "Long rows of flashes",
    limit="4 to 6 changes a second for no more than 4 of any 5 seconds",
    source="ITU-R BT.1702 calls sequences beyond 5 s suspect; 4 of 5 s as in the test set of an open library",
)  # fmt: skip
def sustained(measured: Screened, wanted: Wanted) -> Answer:
    """Flashing that is slow enough for a second can be too much when it does not end."""
    del wanted
    found = [
        *_found(measured, FlashKind.GENERAL, LightModel.RELATIVE, sustained=True),
        *_found(measured, FlashKind.RED, LightModel.RELATIVE, sustained=True),
    ]
    marks = [
        _mark(
            one,
            f"{one.changes} changes a second go on for more than 4 s — a row of 2 to 3 flashes a second may last 4 s",
            Severity.WARNING,
        )
        for one in found
    ]
    return marked(f"{len(found)} found" if found else "none", marks)


@qc_check(
    "qc-flashes-screen", "Flashes in cd/m² (cross-check)",
    limit="at most 3 in any second on more than a quarter of the picture; 20 cd/m² or more, the darker state below "
    "160 cd/m²",
    source="ITU-R BT.1702, for a screen of 200 cd/m² by ITU-R BT.1886",
)  # fmt: skip
def cross_check(measured: Screened, wanted: Wanted) -> Answer:
    """The same pictures by the other published form of luminance; it finds fewer changes in the dark.

    It is no verdict of its own: what only this form finds is a warning.
    """
    del wanted
    found = _found(measured, FlashKind.GENERAL, LightModel.SCREEN, sustained=False)
    strict = _found(measured, FlashKind.GENERAL, LightModel.RELATIVE, sustained=False)
    alone = [one for one in found if not any(one.span.overlap(other.span) for other in strict)]
    marks = [
        _mark(
            one,
            f"{_count(one.changes)} within a second on more than {_PLACE} by this form alone — at most 3 are allowed",
            Severity.WARNING,
        )
        for one in alone
    ]
    agreed = "agrees with the verdict" if bool(found) == bool(strict) else "differs from the verdict"
    return marked(f"{_count(max(one.changes for one in found)) if found else '3 or fewer'}; {agreed}", marks)
