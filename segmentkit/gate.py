"""The gate before a delivery: a finished file is decoded again and judged before it has its name.

What fails is kept beside it under a name that says so, unless a person answers for it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.delivery import Delivery
from segmentkit.errors import NotReleased
from segmentkit.findings import Severity
from segmentkit.measure import Progress
from segmentkit.plan.captions import CaptionSet
from segmentkit.plan.model import Plan
from segmentkit.screened import JoinedPiece
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span
from segmentkit.versions import Version

if TYPE_CHECKING:
    from segmentkit.checks.qc_check import Verdict
    from segmentkit.deliver.qc_data import Override
    from segmentkit.deliver.release import Released
    from segmentkit.media.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """The verdict as the manifest tells it, and the report in both its forms."""

    entry: dict[str, object]
    beside: tuple[Path, ...]


@dataclass(slots=True, kw_only=True)
class Gate:
    """Lets a finished file through, or holds it back; `make_movie` calls it where it would give the file its name.

    Attributes:
        version: what the file holds.
        look: how it is drawn.
        to: how it must be coded and how loud it may be.
        plan: what is heard and seen, without burned captions; `drawn` with them.
        captions: what is handed over as text beside it.
        sidecars: whether a caption file must lie beside it; None where nobody said so.
        programme: its frames between leader and tail; None where it stands alone.
        override: who lets it pass although checks fail, and why.
        progress: told what is going on.
        store: the working folder; what was measured of pieces is kept there.
        released: what became of the file, once it was judged.
        verdicts: how it was judged.
    """

    version: Version
    look: Look
    to: Delivery
    plan: Plan
    drawn: Plan
    captions: tuple[CaptionSet, ...]
    sidecars: bool | None
    programme: Span | None
    override: Override | None
    progress: Progress
    store: Store
    released: Released | None = field(default=None, init=False)
    verdicts: tuple[Verdict, ...] = field(default=(), init=False)

    def __call__(self, partial: Path, final: Path, pieces: Sequence[JoinedPiece] = ()) -> Path:
        """Judges a whole, flushed file and gives it a name; returns where it lies now.

        Args:
            partial: the file.
            final: the name it should have.
            pieces: what it was joined from; those that were measured before are not decoded again.

        Raises:
            OutputFailed: when an override names nobody or gives no reason, or the disk refuses.
            MediaUnusable: when it does not decode to its end.
        """
        from segmentkit.quality import examine, hand_over, planned_reference, wanted_of  # noqa: PLC0415

        wanted = wanted_of(
            self.drawn, self.look, self.to, board=self.version.loaded.board, captions=self.captions,
            sidecars=self.sidecars,
        )  # fmt: skip
        sound = None
        if self.to.sound is not None:
            sound = planned_reference(self.plan, self.version.facts, self.to, self.store)
        examined = examine(
            partial, wanted, reference=sound, programme=self.programme, name=final,
            told=lambda done, of: self.progress("quality control", done, of), pieces=pieces, store=self.store,
        )  # fmt: skip
        self.verdicts = examined.verdicts
        self.released = hand_over(partial, final, self.plan.title, examined, override=self.override)
        return self.released.path

    def passed(self, lies: Path) -> Passed:
        """The verdict on a file; one that had its name already is judged unless a report on these very bytes is there.

        Args:
            lies: where it lies now.
        """
        from segmentkit.deliver.release import passed_before  # noqa: PLC0415
        from segmentkit.media.store import sha256_of  # noqa: PLC0415

        page, data = (lies.with_name(f"{lies.stem}.qc{suffix}") for suffix in (".html", ".json"))
        if self.released is None and passed_before(lies, sha256_of(lies)) and page.is_file():
            return Passed(entry=_entry_of(data, page), beside=(page, data))
        if self.released is None:
            self(lies, lies)
        assert self.released is not None
        return Passed(entry=self.released.entry, beside=(self.released.page, self.released.data))

    def refusal(self) -> NotReleased | None:
        """Why the file does not have its name; None when it has."""
        from segmentkit.checks.qc import findings_of  # noqa: PLC0415

        if self.released is None or self.released.passed:
            return None
        findings = findings_of(self.verdicts)
        failed = [one for one in findings if one.severity is Severity.ERROR]
        head = (
            f"{self.released.path} — failed quality control, so it has another name — {self.released.page.name}"
            " beside it shows where and why — put it right, or answer for it with --override-by and --because"
        )
        return NotReleased("\n".join([head, *(f"{one.where}: {one.what} [{one.id}]" for one in failed)]), findings)


def _entry_of(report: Path, page: Path) -> dict[str, object]:
    """What a manifest says of a report that lies there; the same as when it was written."""
    data = json.loads(report.read_text("utf-8"))

    def told(outcome: str) -> list[str]:
        return [one["id"] for one in data["checks"] if one["outcome"] == outcome]

    return {
        "verdict": data["verdict"],
        "failed": told("fail"),
        "warned": told("warn"),
        "not_checked": told("not checked"),
        "report": page.name,
        "override": data["override"],
    }
