"""Plan to a finished file: pieces that are there are used, missing ones are drawn and encoded, then all are joined."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import Facts, MovieFacts
from segmentkit.media import safe
from segmentkit.media.deliverable import refusal
from segmentkit.media.files import KINDS
from segmentkit.media.join import Chapter, join
from segmentkit.media.pieces import Piece, Pieces
from segmentkit.media.pieces_encode import PieceMaker, sound_piece
from segmentkit.media.pieces_read import joined_facts
from segmentkit.media.store import Store, sha256_of
from segmentkit.media.x264 import looks_long
from segmentkit.plan.model import Plan
from segmentkit.plan.slate import Around
from segmentkit.render.beats import leader_keys, sound_key, stretches, whole_key
from segmentkit.render.holds import note_holds
from segmentkit.render.leader import LeaderArtist
from segmentkit.render.picture import Composed, Composer
from segmentkit.render.quiet import quiet
from segmentkit.screened import JoinedPiece
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span, sample_of_frame

Progress = Callable[[str, int, int], None]
Gate = Callable[[Path, Path, Sequence[JoinedPiece]], Path | None]
"""Takes a whole file, the name it should have and what it was joined from; returns its name, if it is another one."""
_MOVIE, _MOVIE_VERSION = "movies", 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a file that is encoded on its own: the name of its piece, how many pictures, and what draws them.

    Attributes:
        still: runs of pictures that look like the one before, or nearly so.
        repeats: tells how many frames each picture stays, without drawing it.
    """

    key: str
    frames: int
    draw: Callable[[], Iterator[Composed]]
    still: tuple[Span, ...] = ()
    repeats: Callable[[], Sequence[int]] = tuple


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """All that is joined to one file."""

    plan: Plan
    delivery: Delivery
    chapters: Sequence[Chapter]
    pictures: Sequence[Piece]
    sound: Piece | None
    timecode: str | None = None

    def join(self, partial: Path) -> None:
        """Writes the file."""
        join(
            [piece.handle for piece in self.pictures], partial, rate=self.plan.rate, chapters=self.chapters,
            sound=self.sound.handle if self.sound else None, title=self.plan.title, delivery=self.delivery,
            timecode=self.timecode, ahead=max(piece.ahead for piece in self.pictures),
        )  # fmt: skip

    def facts(self, path: Path) -> MovieFacts:
        """Compares a file with its parts and with what its delivery asks for."""
        return joined_facts(
            path, self.pictures, self.sound, delivery=self.delivery, size=self.plan.size, rate=self.plan.rate,
            chapters=len(self.chapters), timecode=self.timecode,
        )  # fmt: skip


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
    around: Around | None = None,
    gate: Gate | None = None,
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
        around: a leader, a slate and a tail, for a master.
        gate: gives a whole new file its name, or another one; the name alone is given unless told otherwise.

    Raises:
        OutputFailed: when the file cannot be written or does not verify; nothing is left under `out`.
        MediaUnusable: when a working copy or a take cannot be read.
    """
    if why := refusal(delivery, rate=plan.rate, size=plan.size, frames=plan.frames):
        raise OutputFailed(why)
    _prepare(out)
    with (
        Pieces(store) as pieces,
        Composer(plan, facts, look, stamp) as composer,
        ThreadPoolExecutor(1, "sound") as beside,
    ):
        sections = _sections(plan, facts, look, delivery, composer, stamp, around)
        heard = sound_key(plan, facts, delivery, store, around.leader if around else None)
        drawn = 2 if delivery.fields else 1  # pictures a frame
        began = around.leader.programme.start * drawn if around else 0
        chapters, timecode = _chapters(plan, began), _timecode(around, delivery)
        names = [plan.title, repr([chapters, delivery.container, timecode]), heard, *(one.key for one in sections)]
        record = store.path_for(_MOVIE, _MOVIE_VERSION, whole_key(names), suffix=".sha256")
        note_holds(store, record, plan, facts, heard, [(one.key, one.frames) for one in sections], began)
        sound: Piece | Future[Piece] | None = None
        if delivery.sound:
            sound = pieces.find(heard) or _sound(plan, facts, delivery, pieces, heard, progress, around, beside)
        pictures = _pictures(plan, delivery, sections, pieces, progress)
        sound = sound.result() if isinstance(sound, Future) else sound
        progress("joining", 0, 1)
        made = _Made(
            plan=plan, delivery=delivery, chapters=chapters, pictures=pictures, sound=sound,
            timecode=timecode,
        )  # fmt: skip
        if _is_there(out, record):
            movie = made.facts(out)
        else:
            frames = around.leader.frames if around else plan.frames // drawn
            movie = _joined(made, frames, out, record, store, gate or _named)
    return replace(movie, programme=around.leader.programme) if around else movie


def _named(partial: Path, out: Path, _: Sequence[JoinedPiece]) -> None:
    """The gate where there is none."""
    safe.commit(partial, out)


def _prepare(out: Path) -> None:
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputFailed(safe.cannot_write(out, error)) from error
    safe.clear_stale(out.parent)


def _sections(
    plan: Plan,
    facts: Facts,
    look: Look,
    delivery: Delivery,
    composer: Composer,
    stamp: str | None,
    around: Around | None,
) -> list[Section]:
    """All that is encoded, in order: the leader's parts, the stretches of the programme, the tail."""
    programme = [
        Section(
            key=part.key,
            frames=part.span.frames,
            draw=lambda span=part.span: composer.pictures(span),  # type: ignore[misc]
            still=quiet(plan, part.span),
            repeats=lambda span=part.span: composer.repeats(span),  # type: ignore[misc]
        )
        for part in stretches(plan, facts, look, delivery, stamp=stamp)
    ]
    if around is None:
        return programme
    drawn = 2 if delivery.fields else 1
    artist = LeaderArtist(look, plan.size, around.leader, around.rows, drawn)
    led = {
        part: Section(key=key, frames=part.span.frames * drawn, draw=lambda part=part: artist.pictures(part))  # type: ignore[misc]
        for part, key in leader_keys(around.leader, around.rows, plan, look, delivery).items()
    }
    before = [led[part] for part in around.leader.before]
    return [*before, *programme, *(led[part] for part in (around.leader.after,) if part in led)]


def _timecode(around: Around | None, delivery: Delivery) -> str | None:
    """The label of the file's first frame, where it has a leader and its kind of file holds a label."""
    if around is None or not KINDS[delivery.container].timecode:
        return None
    return str(around.leader.start)


def _chapters(plan: Plan, start: int) -> list[Chapter]:
    """The beats, in pictures of the file; `start` is the programme's first."""
    return [
        (beat.id.replace("_", " ").capitalize(), start + beat.span.start, start + beat.span.end) for beat in plan.beats
    ]


def _sound(
    plan: Plan,
    facts: Facts,
    delivery: Delivery,
    pieces: Pieces,
    key: str,
    progress: Progress,
    around: Around | None,
    beside: ThreadPoolExecutor,
) -> Future[Piece]:
    """Mixes the sound; it is encoded while the pictures are drawn."""
    from segmentkit.render.leader_sound import with_leader  # noqa: PLC0415  a second run mixes nothing
    from segmentkit.render.mix import mix  # noqa: PLC0415

    progress("sound", 0, 1)
    sounds = {id_: clip.sound for id_, clip in facts.clips.items() if clip.sound is not None}
    samples, _ = mix(plan, sounds, delivery)
    if around is None:
        return beside.submit(sound_piece, pieces, key, samples, delivery)
    leader = around.leader
    first, end = (sample_of_frame(frame, leader.rate) for frame in (leader.programme.start, leader.programme.end))
    return beside.submit(sound_piece, pieces, key, with_leader(samples, leader), delivery, slice(first, end))


def _pictures(
    plan: Plan, delivery: Delivery, sections: Sequence[Section], pieces: Pieces, progress: Progress
) -> list[Piece]:
    """The encoded sections in order; those that are missing are made, each once even when it is shown twice."""
    ready: dict[str, Piece | Future[Piece]] = {}
    for section in sections:
        if section.key not in ready and (found := pieces.find(section.key)) is not None:
            ready[section.key] = found
    missing = {section.key: section for section in reversed(sections) if section.key not in ready}
    of, done = sum(section.frames for section in missing.values()), 0
    with PieceMaker(pieces, size=plan.size, rate=plan.rate, delivery=delivery) as maker:
        for key, section in reversed(missing.items()):
            repeats = section.repeats() if section.still and looks_long(delivery.picture) else ()
            writer = maker.begin(key, section.frames, [(run.start, run.end) for run in section.still], repeats)
            for picture in section.draw():
                writer.write(picture.planes, picture.repeat)
                done += picture.repeat
                progress("picture", done, of)
            ready[key] = maker.end(key, writer)
        if missing:
            progress("finishing", 0, 1)
        return [made.result() if isinstance(made := ready[one.key], Future) else made for one in sections]


def _is_there(out: Path, record: Path) -> bool:
    """Whether the finished file is the one that was made from the very same parts."""
    try:
        return record.read_text().strip() == sha256_of(out) if out.is_file() else False
    except OSError:
        return False


def _joined(made: _Made, frames: int, out: Path, record: Path, store: Store, gate: Gate) -> MovieFacts:
    partial = safe.partial_beside(out)
    try:
        made.join(partial)
        movie = made.facts(partial)
        if movie.frames != frames:
            raise OutputFailed(
                f"{out} — has {movie.frames} frames — {frames} were planned — nothing was left under that name; report"
                " this storyboard"
            )
        content = sha256_of(partial)
        lies = gate(partial, out, [JoinedPiece(one.packets, one.frames) for one in made.pictures]) or out
    except OSError as error:
        raise OutputFailed(safe.cannot_write(out, error)) from error
    finally:
        safe.discard(partial)
    with store.writing(record) as noted:
        noted.write_text(content + "\n")
    return replace(movie, path=lies)
