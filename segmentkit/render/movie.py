"""Plan to a finished file: the sound mixed once, the pictures composed and encoded as they come."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from segmentkit.facts import Delivery, Facts, MovieFacts
from segmentkit.media.encode import MovieWriter
from segmentkit.plan.model import Plan
from segmentkit.render.mix import mix
from segmentkit.render.picture import Composer
from segmentkit.storyboard.look import Look

Progress = Callable[[str, int, int], None]


def make_movie(
    plan: Plan, facts: Facts, look: Look, delivery: Delivery, out: Path, *, progress: Progress, stamp: str | None = None
) -> MovieFacts:
    """Mixes, composes and encodes a plan; the file has its name only once it was read back and is right.

    Args:
        plan: what to make; its shots tile its frames.
        facts: working copies of clips and stills.
        look: how it is drawn.
        delivery: how it is coded and how loud it is.
        out: the finished file's name.
        progress: told "sound", then "picture" with frames done and frames in all.
        stamp: text to burn into a review copy, beside a running timecode.

    Raises:
        OutputFailed: when the file cannot be written or does not verify; nothing is left under `out`.
        MediaUnusable: when a working copy or a take cannot be read.
    """
    chapters = [(beat.id.replace("_", " ").capitalize(), beat.span.start, beat.span.end) for beat in plan.beats]
    progress("sound", 0, 1)
    sounds = {id_: clip.sound for id_, clip in facts.clips.items() if clip.sound is not None}
    samples, _ = mix(plan, sounds, delivery)
    with (
        MovieWriter(
            out, size=plan.size, rate=plan.rate, delivery=delivery, chapters=chapters, title=plan.title
        ) as writer,
        Composer(plan, facts, look, stamp) as composer,
    ):
        writer.write_sound(samples)
        for picture in composer.pictures():
            writer.write(picture.planes, picture.repeat)
            progress("picture", picture.frame + picture.repeat, plan.frames)
        progress("reading back", 0, 1)
        return writer.finish()
