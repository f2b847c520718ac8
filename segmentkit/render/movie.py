"""Plan to a finished file: pieces that are there are used, missing ones are drawn and encoded, then all are joined."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import Facts, MovieFacts
from segmentkit.media import safe
from segmentkit.media.join import Chapter, join
from segmentkit.media.pieces import Piece, Pieces
from segmentkit.media.pieces_encode import PieceMaker, sound_piece
from segmentkit.media.pieces_read import joined_facts
from segmentkit.media.store import Store, sha256_of
from segmentkit.plan.model import Plan
from segmentkit.render.beats import Stretch, sound_key, stretches, whole_key
from segmentkit.render.picture import Composer
from segmentkit.storyboard.look import Look

Progress = Callable[[str, int, int], None]
_MOVIE, _MOVIE_VERSION = "movies", 1


def make_movie(
    plan: Plan,
    facts: Facts,
    look: Look,
    delivery: Delivery,
    out: Path,
    *,
    store: Store,
    progress: Progress,
    stamp: str | None = None,
) -> MovieFacts:
    """Makes what is missing of a plan's pictures and sound and joins all; the file has its name only once it is right.

    Args:
        plan: what to make; its shots tile its frames.
        facts: working copies of clips and stills.
        look: how it is drawn.
        delivery: how it is coded and how loud it is.
        out: the finished file's name.
        store: the working folder, where the encoded pieces are kept.
        progress: told "sound", then "picture" with frames done and frames in all, then "joining".
        stamp: text to burn into a review copy, beside a running timecode.

    Raises:
        OutputFailed: when the file cannot be written or does not verify; nothing is left under `out`.
        MediaUnusable: when a working copy or a take cannot be read.
    """
    parts = stretches(plan, facts, look, delivery, stamp=stamp)
    heard = sound_key(plan, facts, delivery, store)
    chapters = [(beat.id.replace("_", " ").capitalize(), beat.span.start, beat.span.end) for beat in plan.beats]
    record = store.path_for(
        _MOVIE, _MOVIE_VERSION, whole_key([plan.title, repr(chapters), heard, *(part.key for part in parts)]),
        suffix=".sha256",
    )  # fmt: skip
    _prepare(out)
    with Pieces(store) as pieces:
        sound = pieces.find(heard) or _sound(plan, facts, delivery, pieces, heard, progress)
        pictures = _pictures(plan, facts, look, delivery, parts, pieces, progress, stamp)
        progress("joining", 0, 1)
        if _is_there(out, record):
            return joined_facts(out, pictures, sound, plan.rate.fps)
        return _joined(plan, chapters, out, pictures, sound, record, store)


def _prepare(out: Path) -> None:
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputFailed(safe.cannot_write(out, error)) from error
    safe.clear_stale(out.parent)


def _sound(plan: Plan, facts: Facts, delivery: Delivery, pieces: Pieces, key: str, progress: Progress) -> Piece:
    from segmentkit.render.mix import mix  # noqa: PLC0415  a second run mixes nothing

    progress("sound", 0, 1)
    sounds = {id_: clip.sound for id_, clip in facts.clips.items() if clip.sound is not None}
    samples, _ = mix(plan, sounds, delivery)
    return sound_piece(pieces, key, samples, delivery)


def _pictures(
    plan: Plan,
    facts: Facts,
    look: Look,
    delivery: Delivery,
    parts: Sequence[Stretch],
    pieces: Pieces,
    progress: Progress,
    stamp: str | None,
) -> list[Piece]:
    """The encoded stretches in order; those that are missing are made, each once even when it is shown twice."""
    ready: dict[str, Piece | Future[Piece]] = {}
    for part in parts:
        if part.key not in ready and (found := pieces.find(part.key)) is not None:
            ready[part.key] = found
    missing = {part.key: part for part in reversed(parts) if part.key not in ready}
    of, done = sum(part.span.frames for part in missing.values()), 0
    with (
        PieceMaker(pieces, size=plan.size, rate=plan.rate, delivery=delivery) as maker,
        Composer(plan, facts, look, stamp) as composer,
    ):
        for key, part in reversed(missing.items()):
            writer = maker.begin(key, part.span.frames)
            for picture in composer.pictures(part.span):
                writer.write(picture.planes, picture.repeat)
                done += picture.repeat
                progress("picture", done, of)
            ready[key] = maker.end(key, writer)
        if missing:
            progress("finishing", 0, 1)
        return [made.result() if isinstance(made := ready[part.key], Future) else made for part in parts]


def _is_there(out: Path, record: Path) -> bool:
    """Whether the finished file is the one that was made from the very same parts."""
    try:
        return record.read_text().strip() == sha256_of(out) if out.is_file() else False
    except OSError:
        return False


def _joined(
    plan: Plan, chapters: Sequence[Chapter], out: Path, pictures: list[Piece], sound: Piece, record: Path, store: Store
) -> MovieFacts:
    partial = safe.partial_beside(out)
    try:
        join(
            [piece.handle for piece in pictures], partial, rate=plan.rate, sound=sound.handle, chapters=chapters,
            title=plan.title,
        )  # fmt: skip
        movie = joined_facts(partial, pictures, sound, plan.rate.fps)
        if (movie.frames, movie.size, movie.rate, movie.chapters) != (
            plan.frames, plan.size, plan.rate.fps, len(chapters),
        ):  # fmt: skip
            raise OutputFailed(
                f"{out} — has {movie.frames} frames of {movie.size} at {movie.rate} and {movie.chapters} chapters —"
                f" {plan.frames} of {plan.size} at {plan.rate} and {len(chapters)} were planned — nothing was left"
                " under that name; report this storyboard"
            )
        content = sha256_of(partial)
        safe.commit(partial, out)
    except OSError as error:
        raise OutputFailed(safe.cannot_write(out, error)) from error
    finally:
        safe.discard(partial)
    with store.writing(record) as noted:
        noted.write_text(content + "\n")
    return replace(movie, path=out)
