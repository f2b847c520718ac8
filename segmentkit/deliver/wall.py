"""The wall: every card, name and label of a segment on one sheet, with how long it stands and how long it needs."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from segmentkit.checks.cards import card_where, readable_frames, reading_time
from segmentkit.deliver import ink
from segmentkit.deliver.paper import Format, PicturePaper, column, width_of, wrapped
from segmentkit.findings import Finding
from segmentkit.media import safe
from segmentkit.media.stills import Rgb
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Card, Plan, Shot
from segmentkit.timebase import label_of_frame

_MARGIN, _HEAD, _GAP = 10.0, 15.0, 6.0
_WIDE, _TALL = 118.0, 62.0  # millimetres: width of a picture on a wide canvas, and on another one
_TEXT = 17.5  # millimetres under a picture
_INCH = 150  # dots: a sheet of a segment stays a picture that any viewer opens


@dataclass(frozen=True, slots=True, kw_only=True)
class WallEntry:
    """One card, or the names and labels of one shot.

    Attributes:
        frame: of the segment, on which it stands complete.
        name: what a person calls it.
        says: its texts.
        stands: seconds for which it can be read; None for what stays as long as its picture.
        needs: seconds that its words need; None likewise.
        findings: what was found about it.
    """

    frame: int
    name: str
    says: str
    stands: Fraction | None = None
    needs: Fraction | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def short(self) -> bool:
        """Whether it goes before it can be read."""
        return self.stands is not None and self.needs is not None and self.stands < self.needs


def wall_entries(plan: Plan, findings: Sequence[Finding]) -> tuple[WallEntry, ...]:
    """All cards in the order in which they are seen, each shot's names and labels among them."""
    found = [_card(card, plan, findings) for card in plan.cards if card.kind != GUIDE_MARK]
    found += [entry for shot in plan.shots if (entry := _labels(shot, plan, findings))]
    return tuple(sorted(found, key=lambda entry: entry.frame))


def _card(card: Card, plan: Plan, findings: Sequence[Finding]) -> WallEntry:
    start, end = card.span.start + card.enter_frames, card.span.end - card.leave_frames
    where = card_where(card)
    return WallEntry(
        frame=min(max(start, (start + end) // 2), card.span.end - 1),
        name=f"{card.kind.replace('_', ' ')}, {card.beat.replace('_', ' ')}",
        says=" / ".join(text for _, text in card.fields),
        stands=readable_frames(card) / plan.rate.fps,
        needs=reading_time(card.words),
        findings=tuple(one for one in findings if one.where == where),
    )


def _labels(shot: Shot, plan: Plan, findings: Sequence[Finding]) -> WallEntry | None:
    """Names of panes and labels of strokes of one shot, on its last frame on which all strokes stand."""
    strokes = [one for one in plan.strokes if one.shot == shot.id and one.label and not one.kept]
    texts = [" · ".join(text for text in (pane.label, pane.note) if text) for pane in shot.panes if pane.label]
    texts += [one.label for one in strokes if one.label]
    if not texts:
        return None
    ends = [one.span.end - one.wipe_frames - 1 for one in strokes]
    wheres = {f"beat {shot.beat}, pane label", f"beat {shot.beat}, stroke label"}
    return WallEntry(
        frame=min([*ends, shot.span.end - 1]),
        name=f"names and labels, {shot.beat.replace('_', ' ')}",
        says=" / ".join(texts),
        findings=tuple(one for one in findings if one.where in wheres),
    )


def draw_wall(plan: Plan, entries: Sequence[WallEntry], pictures: Mapping[int, Rgb]) -> PicturePaper:
    """Draws the sheet; `pictures` by frame, uint8, shape (height, width, 3). All pictures have one scale."""
    width = _WIDE if plan.size.width > 1.2 * plan.size.height else _TALL
    tall = width * plan.size.height / plan.size.width
    columns = _columns(len(entries), width, tall + _TEXT)
    rows = max(1, -(-len(entries) // columns))
    wide = columns * width + (columns - 1) * _GAP
    high = rows * (tall + _TEXT) + (rows - 1) * _GAP
    paper = PicturePaper(Format("wall", wide + 2 * _MARGIN, high + 2 * _MARGIN + _HEAD), _INCH)
    paper.page()
    _head(paper, plan, entries)
    for k, entry in enumerate(entries):
        x = _MARGIN + (k % columns) * (width + _GAP)
        y = _MARGIN + _HEAD + (k // columns) * (tall + _TEXT + _GAP)
        paper.picture(x, y, width, tall, pictures[entry.frame])
        _under(paper, x, y + tall, width, entry, plan)
        if entry.findings or entry.short:
            for grown in (0.0, 0.5):
                paper.rect(x - grown, y - grown, width + 2 * grown, tall + 2 * grown, None, _tint(entry))
    return paper


def _columns(count: int, width: float, height: float) -> int:
    """So many that the sheet is about half as wide again as it is high."""
    return max(1, min(range(1, max(2, count + 1)), key=lambda n: abs(n * width - 1.5 * -(-count // n) * height)))


def _tint(entry: WallEntry) -> str:
    worst = min((one.severity.rank for one in entry.findings), default=0 if entry.short else 2)
    return (ink.WARNING, ink.CAUTION, ink.SEA)[worst]


def _head(paper: PicturePaper, plan: Plan, entries: Sequence[WallEntry]) -> None:
    paper.text(_MARGIN, _MARGIN + 7, plan.title, 16, ink.SLATE, strong=True)
    marked = sum(bool(entry.findings or entry.short) for entry in entries)
    says = f"{len(entries)} cards and labels, {marked} with findings; {plan.size} at {plan.rate}"
    right = paper.format.width - _MARGIN
    paper.text(right - width_of(says, 9), _MARGIN + 7, says, 9, ink.INK)
    paper.line(_MARGIN, _MARGIN + 10, right, _MARGIN + 10, ink.SLATE, 0.5)


def _under(paper: PicturePaper, x: float, y: float, width: float, entry: WallEntry, plan: Plan) -> None:
    title = f"{label_of_frame(entry.frame, plan.rate)}  {entry.name}"
    at = column(paper, x, y + 1.2, wrapped(title, width, 9.5, strong=True)[:1], 9.5, ink.SLATE, strong=True)
    at = column(paper, x, at, wrapped(entry.says, width, 8)[:2], 8, ink.QUIET)
    if entry.stands is not None and entry.needs is not None:
        says = f"stands {float(entry.stands):.1f} s, needs {float(entry.needs):.1f} s"
        at = column(paper, x, at, [says], 8, ink.WARNING if entry.short else ink.INK, strong=entry.short)
    if entry.findings:
        ids = ", ".join(dict.fromkeys(one.id for one in entry.findings))
        column(paper, x, at, wrapped(ids, width, 8, strong=True)[:1], 8, _tint(entry), strong=True)


def write_wall(out: Path, plan: Plan, entries: Sequence[WallEntry], pictures: Mapping[int, Rgb]) -> None:
    """Writes the sheet as a PNG.

    Raises:
        OutputFailed: when it cannot be written.
    """
    data = io.BytesIO()
    draw_wall(plan, entries, pictures).pages[0].save(data, "PNG")
    with safe.writing(out) as partial:
        partial.write_bytes(data.getvalue())
