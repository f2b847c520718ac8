"""What was noticed in takes and clips while they were measured; a producer hears of it before the render does."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.findings import Severity


@check("take-noted", Severity.NOTE)
def take_noted(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A take may be clipped, too quiet, humming or noisy, or its words could not be found in it.

    None of this stops a render, but all of it is cheaper to mend while the reader still sits at the microphone. A
    failed alignment is said here and never guessed over in silence.
    """
    del limits
    beats = {beat.beat: index for index, beat in enumerate(context.board.beats)}
    for reading in context.facts.readings:
        for note in reading.notes:
            what, _, remedy = note.partition(" — ")
            name = reading.path.name if reading.path is not None else f"line {reading.line + 1}"
            yield Remark(
                where=f"beat {reading.beat}, {name}",
                what=f"{what.rstrip('.')} — a clean take has nothing to note",
                remedy=remedy.rstrip(".") or "listen to it, and read it again if you hear it too",
                path=("beats", beats[reading.beat], "say"),
                numbers=(("line", reading.line + 1),),
            )


@check("take-unused", Severity.NOTE)
def take_unused(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A recording that no line uses is often one whose name is misspelt, and the guide voice speaks in its place.

    Older takes of a line that has a newer one are not meant: they fit their line.
    """
    del limits
    for told in context.facts.unused_takes:
        name, _, rest = told.partition(" — ")
        what, _, remedy = rest.partition(" — ")
        yield Remark(
            where=f"takes, {name}",
            what=f"1 file {what} — every file in the folder of readings is a take of some line",
            remedy=remedy.rstrip("?"),
            path=("voice", "takes"),
            numbers=(("files", 1),),
        )


@check("clip-noted", Severity.NOTE)
def clip_noted(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """What had to be put right in a clip, such as a turn, a variable rate, interlace or HDR, may be seen.

    The working copy is upright, of square pixels and of standard colour; the note says what the file was before.
    """
    del limits
    for id_, clip in context.facts.clips.items():
        for note in clip.notes:
            yield Remark(
                where=f"clip {id_}",
                what=f"{note.rstrip('.')} — this was put right in the working copy",
                remedy="look at its freezes before they go on air",
                path=("clips", id_),
                numbers=(("frames", clip.frames),),
            )
