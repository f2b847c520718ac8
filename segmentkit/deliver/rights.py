"""Who is seen and heard where and by what permission, and which music sounds when: rights sheet and cue sheet.

Both are CSV (RFC 4180) for machines and spreadsheets; the same rows as text for people.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from segmentkit.plan.model import ClipPicture, Plan, StillPicture
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Licence
from segmentkit.timebase import Span, label_of_frame

Row = tuple[str, ...]
RIGHTS_HEAD: Row = ("in", "out", "duration", "kind", "item", "file", "person", "allowed for", "from", "until",
                    "signed by", "credit", "licensed by", "reference", "licensed for", "territory", "licensed from",
                    "licensed until")  # fmt: skip
CUES_HEAD: Row = ("cue", "in", "out", "duration", "title", "file", "credit", "use", "level dB", "under speech dB",
                  "licensed by", "reference", "licensed for", "territory", "licensed from",
                  "licensed until")  # fmt: skip


def rights_rows(plan: Plan, board: Storyboard) -> tuple[Row, ...]:
    """One row for each picture as long as it is on screen without a break, and one for each voice as long as it speaks.

    Uses that follow one another without a gap are one row. A minor is named as shown; who signed for them is named,
    because this sheet stays in the house.
    """
    uses: list[tuple[Span, str, str]] = []
    for shot in plan.shots:
        for pane in shot.panes:
            match pane.picture:
                case ClipPicture(clip=clip):
                    uses.append((shot.span, "clip", clip))
                case StillPicture(still=still):
                    uses.append((shot.span, "still", still))
    uses += [(line.span, "voice", line.speaker) for line in plan.speech]
    return tuple(_right(plan, board, *use) for use in _merged(uses))


def _merged(uses: Sequence[tuple[Span, str, str]]) -> Iterator[tuple[Span, str, str]]:
    open_: dict[tuple[str, str], Span] = {}
    done: list[tuple[Span, str, str]] = []
    for span, kind, item in sorted(uses, key=lambda use: (use[0].start, use[1], use[2])):
        before = open_.get((kind, item))
        if before is not None and span.start <= before.end:
            open_[kind, item] = Span(before.start, max(before.end, span.end))
            continue
        if before is not None:
            done.append((before, kind, item))
        open_[kind, item] = span
    done += [(span, kind, item) for (kind, item), span in open_.items()]
    yield from sorted(done, key=lambda use: (use[0].start, use[1], use[2]))


def _right(plan: Plan, board: Storyboard, span: Span, kind: str, item: str) -> Row:
    file = credit = ""
    id_: str | None = None
    licence: Licence | None = None
    match kind:
        case "clip":
            clip = board.clips[item]
            file, id_, licence = clip.file, clip.person, clip.licence
        case "still":
            still = board.stills[item]
            file, id_, credit, licence = still.file, still.person, still.credit or "", still.licence
        case _:
            id_ = board.speakers[item].person if item in board.speakers else None
    person = board.people.get(id_) if id_ else None
    release = person.release if person else None
    return (
        *_times(plan, span),
        kind,
        item,
        file,
        person.shown if person else "",
        ", ".join(scope.value for scope in release.for_) if release else "",
        str(release.from_ or "") if release else "",
        str(release.until or "") if release else "",
        (release.by or "") if release else "",
        credit,
        *_licence(licence),
    )


def _licence(licence: Licence | None) -> Row:
    """The columns of a licence; empty where there is none."""
    if licence is None:
        return ("",) * 6
    return (
        licence.by or "", licence.reference or "", ", ".join(scope.value for scope in licence.for_),
        licence.territory or "", str(licence.from_ or ""), str(licence.until or ""),
    )  # fmt: skip


def cue_rows(plan: Plan, board: Storyboard) -> tuple[Row, ...]:
    """One row for each stretch of music, in the order in which it sounds."""
    cues = sorted(zip(plan.music, board.music, strict=True), key=lambda pair: pair[0].span.start)
    return tuple(
        (
            str(number),
            *_times(plan, cue.span),
            spec.title or cue.path.stem.replace("_", " "),
            spec.file,
            spec.credit or "",
            "under speech" if any(line.span.overlap(cue.span) for line in plan.speech) else "alone",
            f"{cue.level_db:g}",
            f"{cue.under_speech_db:g}",
            *_licence(spec.licence),
        )
        for number, (cue, spec) in enumerate(cues, 1)
    )


def _times(plan: Plan, span: Span) -> Row:
    return tuple(str(label_of_frame(frame, plan.rate)) for frame in (span.start, span.end, span.frames))


def as_csv(head: Row, rows: Sequence[Row]) -> str:
    """Rows as CSV, with a head; a text that a spreadsheet would take for a formula is marked as text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([f"'{cell}" if cell[:1] in {"=", "+", "@"} else cell for cell in row])
    return out.getvalue()


def as_text(title: str, head: Row, rows: Sequence[Row]) -> str:
    """Rows as columns of text; columns in which nothing stands are left out."""
    kept = [k for k in range(len(head)) if any(row[k] for row in rows)]
    widths = [max(len(head[k]), *(len(row[k]) for row in rows)) for k in kept] if rows else []
    lines = [title, ""]
    for row in (head, *rows) if rows else ():
        lines.append("  ".join(row[k].ljust(width) for k, width in zip(kept, widths, strict=True)).rstrip())
    return "\n".join(lines if rows else [title, "", "none"]) + "\n"
