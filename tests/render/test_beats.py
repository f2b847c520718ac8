"""Stretches and their names, and movies that are put together from pieces: complete, equal, and safe to interrupt."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import multiprocessing
import os
import random
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from segmentkit.delivery import SoundCoding
from segmentkit.errors import MediaUnusable
from segmentkit.facts import Facts
from segmentkit.geometry import Point
from segmentkit.media import pieces as pieces_module
from segmentkit.media.pieces import LIMIT_VARIABLE, Pieces, store_limit, trim
from segmentkit.media.store import Store
from segmentkit.media.verify import read_back
from segmentkit.pipeline import Checked, check
from segmentkit.plan.model import Entry, Light, Plan
from segmentkit.render import beats
from segmentkit.render.beats import sound_key, stretches
from segmentkit.storyboard.profiles import delivery
from segmentkit.timebase import Span
from tests import plan_makers
from tests.render import movies
from tests.render.movies import BOARD, checked, frames_drawn, movie, project

WEB = delivery("web")


@pytest.fixture(scope="module")
def segment(tmp_path_factory: pytest.TempPathFactory) -> Checked:
    return checked(tmp_path_factory.mktemp("segment"))


@pytest.fixture(scope="module")
def lesson() -> tuple[Plan, Facts, Checked]:
    made = plan_makers.context(plan_makers.clean())
    return made.plan, made.facts, made


def keys(plan: Plan, facts: Facts, segment: Checked, **options) -> list[str]:
    return [part.key for part in stretches(plan, facts, segment.look, WEB, **options)]


def file_hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def proven(path: Path) -> bool:
    with path.open("rb") as file:
        return pieces_module._proven(file) is not None


def stored(store: Path) -> dict[Path, str]:
    return {path: file_hash(path) for path in sorted((store / "pieces").rglob("[!.]*.mp4"))}


class TestStretches:
    def test_they_tile_the_segment_and_stay_within_beats(self, segment, lesson):
        for plan, facts in ((segment.plan, segment.facts), lesson[:2]):
            parts = stretches(plan, facts, segment.look, WEB)
            assert parts[0].span.start == 0
            assert [part.span.start for part in parts[1:]] == [part.span.end for part in parts[:-1]]
            assert parts[-1].span.end == plan.frames
            for part in parts:
                beat = plan.beat(part.beat).span
                assert beat.start <= part.span.start < part.span.end <= beat.end
                whole_beat = part.span == beat
                assert whole_beat or part.span.frames >= plan.rate.fps

    def test_a_very_short_shot_joins_its_neighbour(self, segment):
        shots = segment.plan.shots
        assert [part.span for part in stretches(segment.plan, segment.facts, segment.look, WEB)] == [
            shot.span for shot in shots
        ]
        first, second = shots[1:3]
        cut = first.span.start + 5
        moved = (
            replace(first, span=Span(first.span.start, cut)),
            replace(second, span=Span(cut, second.span.end)),
        )
        plan = replace(segment.plan, shots=(shots[0], *moved, *shots[3:]))
        assert Span(first.span.start, second.span.end) in [
            part.span for part in stretches(plan, segment.facts, segment.look, WEB)
        ]

    def test_names_do_not_depend_on_ids_places_in_the_segment_or_folders(self, segment, tmp_path):
        text = (
            BOARD.replace("  - beat: title\n", "  - beat: opening\n").replace("coded:", "swing:")
            .replace("clip: coded", "clip: swing").replace("ring: {ring", "mark: {ring")
            .replace("beat: first", "beat: a")
            .replace("slot: 12s", "slot: 15s").replace("beats:\n", "beats:\n  - beat: before\n    show:\n"
            "      - title: {main: Before, hold: 3s}\n")
        )  # fmt: skip
        text = text.replace("takes/first", "takes/a")
        project(tmp_path, text)
        (tmp_path / "takes" / "first.wav").rename(tmp_path / "takes" / "a.wav")
        other = check(tmp_path / "board.yaml")
        assert keys(other.plan, other.facts, other)[1:] == keys(segment.plan, segment.facts, segment)


def changed(value: object) -> object:
    """Another value of the same kind."""
    match value:
        case bool():
            return not value
        case int() | float():
            return value + 1
        case str():
            return value + "x"
        case None:
            return "x"
        case tuple():
            return value[:-1] if value else ("x",)
    if dataclasses.is_dataclass(value):
        field = dataclasses.fields(value)[0]
        return replace(value, **{field.name: changed(getattr(value, field.name))})
    raise TypeError(type(value))


class TestNames:
    """What can be seen changes the name of its stretch and of no other; what cannot be seen changes none."""

    @pytest.mark.parametrize("kind", ["shots", "strokes", "cards"])
    def test_every_field_counts_unless_it_is_listed_as_unseen(self, lesson, kind):
        plan, facts, _ = lesson
        before = [beats._data(thing, facts) for thing in getattr(plan, kind)]
        thing = getattr(plan, kind)[-1]
        for field in dataclasses.fields(thing):
            value = getattr(thing, field.name)
            unseen = field.name in beats._UNSEEN[type(thing)]
            if kind == "shots" and field.name == "panes" and not value:
                continue
            after = beats._data(replace(thing, **{field.name: changed(value)}), facts)
            assert (after == before[-1]) == unseen, field.name

    def test_a_field_that_a_class_gains_is_counted(self, lesson):
        _, facts, _ = lesson

        @dataclasses.dataclass(frozen=True)
        class New:
            tint: float

        assert beats._data(New(0.1), facts) != beats._data(New(0.2), facts)

    def test_a_file_name_cannot_slip_in(self, lesson):
        with pytest.raises(TypeError, match="by its content"):
            beats._data(Path("clip.mp4"), lesson[1])

    def seen_in(self, segment: Checked, plan: Plan, facts: Facts | None = None) -> set[str]:
        old = stretches(segment.plan, segment.facts, segment.look, WEB)
        new = stretches(plan, facts or segment.facts, segment.look, WEB)
        assert [part.span for part in old] == [part.span for part in new]
        return {a.beat for a, b in zip(old, new, strict=True) if a.key != b.key}

    def test_a_stroke_changes_its_own_stretch(self, segment):
        ring, line = segment.plan.strokes
        moved = replace(line, points=(Point(0.25, 0.2), line.points[1]))
        assert self.seen_in(segment, replace(segment.plan, strokes=(ring, moved))) == {"second"}
        later = replace(ring, draw_start=ring.draw_start + 1)
        assert self.seen_in(segment, replace(segment.plan, strokes=(later, line))) == {"first"}
        assert self.seen_in(segment, replace(segment.plan, strokes=(ring,))) == {"second"}

    def test_a_card_changes_all_stretches_over_which_it_lies(self, segment):
        (title,) = segment.plan.cards
        wide = replace(title, kind="caution", fields=(("text", "Slowly"),), span=Span(200, 290))
        assert self.seen_in(segment, replace(segment.plan, cards=(title, wide))) == {"first", "second", "third"}

    def test_a_card_that_makes_another_give_way_changes_that_ones_stretch(self, segment):
        (title,) = segment.plan.cards
        low = replace(
            title, kind="lower_third", fields=(("name", "A name that is long"),), span=Span(120, 230), beat="first"
        )
        one = replace(segment.plan, cards=(title, low))
        other = replace(
            title,
            kind="caution",
            fields=(("text", "General advice only. Warm up first. Stop if anything hurts. " * 2),),
            span=Span(217, 260),
            beat="second",
        )
        old = stretches(one, segment.facts, segment.look, WEB)
        new = stretches(replace(one, cards=(title, low, other)), segment.facts, segment.look, WEB)
        assert {a.beat for a, b in zip(old, new, strict=True) if a.key != b.key} == {"first", "second"}

    def test_a_clip_with_other_bytes_changes_what_shows_it(self, segment):
        clips = {id_: replace(clip, content="0" * 64) for id_, clip in segment.facts.clips.items()}
        assert self.seen_in(segment, segment.plan, replace(segment.facts, clips=clips)) == {"first", "second", "third"}

    def test_light_and_entry_count_and_an_entry_looks_at_the_shot_before(self, segment):
        shots = list(segment.plan.shots)
        pane = shots[-1].panes[0]
        lit = replace(shots[-1], panes=(replace(pane, light=Light(gain=1.1, lift=0, blue=0, red=0)),))
        assert self.seen_in(segment, replace(segment.plan, shots=(*shots[:-1], lit))) == {"third"}
        entering = replace(shots[-1], enter=Entry(by="dissolve", frames=8))
        plan = replace(segment.plan, shots=(*shots[:-1], entering))
        assert self.seen_in(segment, plan) == {"third"}
        ring, line = segment.plan.strokes
        moved = replace(line, points=(Point(0.25, 0.2), line.points[1]))
        assert {
            new.beat
            for old, new in zip(
                stretches(plan, segment.facts, segment.look, WEB),
                stretches(replace(plan, strokes=(ring, moved)), segment.facts, segment.look, WEB), strict=True,
            )
            if old.key != new.key
        } == {"second", "third"}  # fmt: skip

    def test_look_size_rate_coding_fonts_and_stamp_count(self, segment, tmp_path):
        plan, facts, look = segment.plan, segment.facts, segment.look
        usual = keys(plan, facts, segment)
        palette = look.palette.model_copy(update={"accent": (1, 2, 3)})
        for other, coded in (
            (look.model_copy(update={"palette": palette}), WEB),
            (look.model_copy(update={"margin": 0.07}), WEB),
            (look, replace(WEB, picture=replace(WEB.picture, quality=WEB.picture.quality + 1))),
            (look, replace(WEB, picture=replace(WEB.picture, preset="fast"))),
        ):
            new = [part.key for part in stretches(plan, facts, other, coded)]
            assert not set(new) & set(usual)
        fonts = tmp_path / "fonts"
        fonts.mkdir()
        for name in (look.type.regular, look.type.medium, look.type.bold):
            (fonts / name).write_bytes((Path(look.type.folder) / name).read_bytes())
        moved = look.model_copy(update={"type": look.type.model_copy(update={"folder": str(fonts)})})
        assert [part.key for part in stretches(plan, facts, moved, WEB)] == usual
        (fonts / look.type.bold).write_bytes((fonts / look.type.bold).read_bytes() + b"\0")
        again = moved.model_copy(update={"type": moved.type.model_copy(update={"folder": f"{fonts}/."})})
        assert not set(usual) & {part.key for part in stretches(plan, facts, again, WEB)}
        assert not set(usual) & set(keys(plan, facts, segment, stamp="v2"))
        louder = replace(WEB, loudness=WEB.loudness - 3, sound=SoundCoding(bit_rate=96_000))
        assert [part.key for part in stretches(plan, facts, look, louder)] == usual

    def test_the_sound_has_a_name_of_its_own(self, segment, tmp_path):
        store = Store(tmp_path)
        usual = sound_key(segment.plan, segment.facts, WEB, store)
        (line,) = segment.plan.speech
        later = replace(segment.plan, speech=(replace(line, span=Span(line.span.start + 1, line.span.end + 1)),))
        assert sound_key(later, segment.facts, WEB, store) != usual
        assert keys(later, segment.facts, segment) == keys(segment.plan, segment.facts, segment)
        assert sound_key(segment.plan, segment.facts, replace(WEB, loudness=-20), store) != usual
        assert (
            sound_key(segment.plan, segment.facts, replace(WEB, picture=replace(WEB.picture, quality=30)), store)
            == usual
        )
        copy = tmp_path / "copy.wav"
        copy.write_bytes(line.path.read_bytes())
        moved = replace(segment.plan, speech=(replace(line, path=copy),))
        assert sound_key(moved, segment.facts, WEB, store) == usual
        copy.write_bytes(copy.read_bytes()[:-3] + b"\1\2\3")
        assert sound_key(moved, segment.facts, WEB, store) != usual


def pictures(path: Path) -> list[bytes]:
    with av.open(str(path)) as container:
        return [hashlib.sha256(frame.to_ndarray().tobytes()).digest() for frame in container.decode(video=0)]


def heard(path: Path) -> np.ndarray:
    with av.open(str(path)) as container:
        return np.concatenate([frame.to_ndarray() for frame in container.decode(audio=0)], axis=1)


class TestMovies:
    @pytest.mark.slow
    def test_a_second_run_draws_nothing_and_leaves_the_file_alone(self, segment, tmp_path):
        out, store = tmp_path / "a.mp4", tmp_path / "store"
        assert frames_drawn(movie(segment, out, store)) == segment.plan.frames
        before, content = out.stat().st_mtime_ns, file_hash(out)
        told = movie(segment, out, store)
        assert [step for step, _, _ in told] == ["joining"]
        assert (out.stat().st_mtime_ns, file_hash(out)) == (before, content)
        out.write_bytes(out.read_bytes()[:-1] + b"x")
        assert [step for step, _, _ in movie(segment, out, store)] == ["joining"]
        assert file_hash(out) == content

    @pytest.mark.slow
    def test_partly_found_pieces_give_the_very_same_file(self, segment, tmp_path):
        fresh = tmp_path / "fresh.mp4"
        movie(segment, fresh, tmp_path / "one")
        ring, line = segment.plan.strokes
        moved = replace(line, points=(Point(0.25, 0.2), line.points[1]))
        other = replace(segment, plan=replace(segment.plan, strokes=(ring, moved)))
        mixed = tmp_path / "mixed.mp4"
        movie(other, mixed, tmp_path / "two")
        assert frames_drawn(movie(segment, mixed, tmp_path / "two")) == segment.plan.beat("second").span.frames
        assert pictures(mixed) == pictures(fresh)
        assert np.array_equal(heard(mixed), heard(fresh))
        assert file_hash(mixed) == file_hash(fresh)

    def test_a_joined_movie_decodes_to_its_end_with_every_frame_at_its_moment(self, segment, tmp_path):
        movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        facts = read_back(tmp_path / "a.mp4")
        assert facts.frames == segment.plan.frames
        assert facts.chapters == len(segment.plan.beats)
        # The file's own reading of what it holds is what the join reported.
        assert facts == movie_facts(segment, tmp_path / "a.mp4", tmp_path / "store")

    @pytest.mark.slow
    def test_pieces_decode_to_the_same_pictures_alone_and_joined(self, segment, tmp_path):
        movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        alone: list[bytes] = []
        with Pieces(Store(tmp_path / "store")) as pieces:
            for part in stretches(segment.plan, segment.facts, segment.look, WEB):
                alone += pictures(pieces.path_for(part.key))
        assert pictures(tmp_path / "a.mp4") == alone

    @pytest.mark.slow
    def test_another_sound_encodes_no_picture_and_other_words_on_screen_no_sound(self, segment, tmp_path):
        out, store = tmp_path / "a.mp4", tmp_path / "store"
        movie(segment, out, store)
        silent = replace(segment, plan=replace(segment.plan, natural=()))
        assert [step for step, _, _ in movie(silent, out, store)] == ["sound", "joining"]
        (title,) = segment.plan.cards
        renamed = replace(title, fields=(("main", "Bits"),))
        told = movie(replace(silent, plan=replace(silent.plan, cards=(renamed,))), out, store)
        assert "sound" not in {step for step, _, _ in told}
        assert frames_drawn(told) == segment.plan.beat("title").span.frames

    @pytest.mark.slow
    def test_two_segments_share_what_looks_the_same(self, segment, tmp_path):
        movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        text = BOARD.replace("beat: title", "beat: opening").replace("radius: 0.2", "radius: 0.25")
        other = checked(tmp_path / "other", text)
        told = movie(other, tmp_path / "b.mp4", tmp_path / "store")
        freeze = other.plan.shots[2].span.frames
        assert frames_drawn(told) == freeze

    @pytest.mark.slow
    def test_a_stretch_shown_twice_is_encoded_once(self, segment, tmp_path):
        shots = segment.plan.shots
        twin = replace(shots[-1], id="again/0", beat="again", span=Span(300, 324))
        beat = replace(segment.plan.beats[-1], id="again", span=Span(300, 324))
        plan = replace(segment.plan, shots=(*shots, twin), beats=(*segment.plan.beats, beat))
        told = movie(replace(segment, plan=plan), tmp_path / "a.mp4", tmp_path / "store")
        assert frames_drawn(told) == 300
        shown = pictures(tmp_path / "a.mp4")
        assert shown[276:300] == shown[300:324]

    @pytest.mark.slow
    def test_the_store_that_the_environment_names_is_used(self, tmp_path, monkeypatch):
        monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "season"))
        checked(tmp_path / "one")
        assert (tmp_path / "season" / "clip").is_dir()
        assert not (tmp_path / "one" / ".segmentkit").exists()


def movie_facts(segment: Checked, out: Path, store: Path):
    from segmentkit.render.movie import make_movie

    return make_movie(segment.plan, segment.facts, segment.look, WEB, out, store=Store(store), progress=lambda *_: None)


class TestDamage:
    @pytest.mark.slow
    @pytest.mark.parametrize("what", ["pictures", "sound"])
    @pytest.mark.parametrize("harm", ["flip", "cut", "empty", "longer", "unsealed"])
    def test_a_damaged_piece_is_made_again(self, segment, tmp_path, harm, what):
        out, store = tmp_path / "a.mp4", tmp_path / "store"
        movie(segment, out, store)
        good, whole = file_hash(out), stored(store)
        key = keys(segment.plan, segment.facts, segment)[1]
        if what == "sound":
            key = sound_key(segment.plan, segment.facts, WEB, Store(store))
        with Pieces(Store(store)) as pieces:
            victim = pieces.path_for(key)
        data = bytearray(victim.read_bytes())
        match harm:
            case "flip":
                data[len(data) // 2] ^= 1
            case "cut":
                del data[len(data) * 2 // 3 :]
            case "empty":
                data.clear()
            case "longer":
                data += b"\0\0\0\0"
            case "unsealed":
                del data[-int.from_bytes(data[-4:], "big") :]
        victim.write_bytes(data)
        out.unlink()
        told = movie(segment, out, store)
        assert frames_drawn(told) == (0 if what == "sound" else segment.plan.shots[1].span.frames)
        assert ("sound" in {step for step, _, _ in told}) == (what == "sound")
        assert file_hash(out) == good
        assert stored(store) == whole

    def test_a_piece_that_is_not_what_was_encoded_is_never_kept(self, segment, tmp_path, monkeypatch):
        from segmentkit.errors import OutputFailed
        from segmentkit.media.encode import PictureWriter

        finish = PictureWriter.finish

        def broken(writer: PictureWriter) -> int:
            frames = finish(writer)
            data = bytearray(writer.path.read_bytes())
            middle = data.index(b"mdat") + 2000
            data[middle : middle + 600] = bytes(600)
            writer.path.write_bytes(data)
            return frames

        monkeypatch.setattr(PictureWriter, "finish", broken)
        with pytest.raises(OutputFailed, match="other pictures"):
            movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        assert not (tmp_path / "a.mp4").exists()
        assert [path.name for path in tmp_path.rglob("*.partial*")] == []

    @pytest.mark.slow
    def test_an_error_while_drawing_leaves_whole_pieces_only(self, segment, tmp_path, monkeypatch):
        from segmentkit.media.frames import ClipReader

        def refuse(reader: ClipReader, frame: int):
            raise MediaUnusable("cannot be read")

        monkeypatch.setattr(ClipReader, "planes", refuse)
        with pytest.raises(MediaUnusable):
            movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        assert [path.name for path in tmp_path.rglob("*.partial*")] == []
        assert all(proven(path) for path in stored(tmp_path / "store"))


class TestRoom:
    @pytest.mark.slow
    def test_the_piece_not_used_for_the_longest_time_goes_first(self, segment, tmp_path):
        store = tmp_path / "store"
        movie(segment, tmp_path / "a.mp4", store)
        names = list(stored(store))
        for age, path in enumerate(names):
            os.utime(path, (time.time() - 1000 + age, time.time() - 1000 + age))
        sizes = [path.stat().st_size for path in names]
        assert trim(store / "pieces", sum(sizes[2:])) == 2
        assert list(stored(store)) == names[2:]
        # Use makes it young again: the next to go is another one.
        with Pieces(Store(store)) as pieces:
            parts = stretches(segment.plan, segment.facts, segment.look, WEB)
            kept = next(part.key for part in parts if pieces.path_for(part.key) == names[2]) if any(
                pieces.path_for(part.key) == names[2] for part in parts
            ) else sound_key(segment.plan, segment.facts, WEB, Store(store))  # fmt: skip
            assert pieces.find(kept) is not None
        assert trim(store / "pieces", sum(sizes[2:]) - 1) == 1
        assert names[2] in stored(store)
        assert names[3] not in stored(store)

    @pytest.mark.slow
    def test_a_render_in_a_folder_without_room_still_gives_its_movie(self, segment, tmp_path, monkeypatch):
        movie(segment, tmp_path / "a.mp4", tmp_path / "one")
        monkeypatch.setenv(LIMIT_VARIABLE, "0")
        movie(segment, tmp_path / "b.mp4", tmp_path / "two")
        assert file_hash(tmp_path / "a.mp4") == file_hash(tmp_path / "b.mp4")
        assert stored(tmp_path / "two") == {}

    @pytest.mark.slow
    def test_a_system_that_fixes_open_files_keeps_pieces_too(self, segment, tmp_path, monkeypatch):
        """As Windows does: a file that is open is neither renamed, nor replaced, nor removed."""

        def closed(path):
            for link in Path("/proc/self/fd").iterdir():
                with contextlib.suppress(FileNotFoundError):
                    if link.readlink() == path:
                        raise PermissionError(13, "in use", str(path))

        replaced, removed = Path.replace, Path.unlink
        monkeypatch.setattr(Path, "replace", lambda self, to: (closed(self), closed(to), replaced(self, to))[-1])
        monkeypatch.setattr(Path, "unlink", lambda self, **how: (closed(self), removed(self, **how))[-1])
        monkeypatch.setattr(pieces_module, "_OPEN_IS_FIXED", True)
        out, store = tmp_path / "a.mp4", tmp_path / "store"
        movie(segment, out, store)
        whole = file_hash(out)
        harmed = next(iter(stored(store)))
        harmed.write_bytes(harmed.read_bytes()[:-200])
        movie(segment, out, store)
        assert file_hash(out) == whole
        assert all(proven(path) for path in stored(store))
        with Pieces(Store(store)) as one, Pieces(Store(store)) as two:
            key = "ab" * 32
            for made in (one, two):
                with made.making(key) as partial:
                    partial.write_bytes(b"the same")
                    assert made.keep(key, partial, {"frames": 1}).measured == {"frames": 1}

    @pytest.mark.slow
    def test_a_piece_in_use_stays_readable_when_it_is_thrown_out(self, segment, tmp_path):
        movie(segment, tmp_path / "a.mp4", tmp_path / "store")
        key = stretches(segment.plan, segment.facts, segment.look, WEB)[0].key
        with Pieces(Store(tmp_path / "store")) as pieces:
            piece = pieces.find(key)
            assert trim(tmp_path / "store" / "pieces", 0) > 0
            assert not piece.path.exists()
            piece.handle.seek(0)
            with av.open(piece.handle) as container:
                assert sum(1 for _ in container.decode(video=0)) == piece.frames

    def test_sizes_are_read_and_nonsense_is_refused(self, monkeypatch):
        monkeypatch.delenv(LIMIT_VARIABLE, raising=False)
        assert store_limit() == 20_000_000_000
        for text, size in (("500 MB", 500_000_000), ("1.5g", 1_500_000_000), ("0", 0), ("7 kb", 7000)):
            monkeypatch.setenv(LIMIT_VARIABLE, text)
            assert store_limit() == size
        for text in ("lots", "-1 GB", "5 GiB"):
            monkeypatch.setenv(LIMIT_VARIABLE, text)
            with pytest.raises(MediaUnusable, match="is not a size"):
                store_limit()


def render_alone(segment: Checked, out: Path, store: Path) -> None:
    """What a process of its own does; at module level, so that it can be sent there."""
    movies.movie(segment, out, store)


@pytest.fixture(scope="module")
def processes():
    """Processes that start with everything imported and no thread running."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.render.test_beats"])
    return context


class TestProcesses:
    @pytest.mark.slow
    def test_two_processes_at_once_give_the_same_file(self, segment, tmp_path, processes):
        outs = [tmp_path / f"{name}.mp4" for name in "ab"]
        both = [processes.Process(target=render_alone, args=(segment, out, tmp_path / "store")) for out in outs]
        for process in both:
            process.start()
        for process in both:
            process.join(120)
            assert process.exitcode == 0
        movie(segment, tmp_path / "c.mp4", tmp_path / "alone")
        assert {file_hash(out) for out in outs} == {file_hash(tmp_path / "c.mp4")}
        assert [path.name for path in tmp_path.rglob("*.partial*")] == []

    @pytest.mark.slow
    def test_killed_at_fifty_moments_it_never_leaves_half_of_anything(self, segment, tmp_path, processes):
        reference, out, store = tmp_path / "reference.mp4", tmp_path / "out" / "a.mp4", tmp_path / "store"
        began = time.monotonic()
        movie(segment, reference, tmp_path / "other")
        longest = min(1.2, time.monotonic() - began)
        whole, chance = file_hash(reference), random.Random(7)
        killed = 0
        for _ in range(50):
            process = processes.Process(target=render_alone, args=(segment, out, store))
            process.start()
            process.join(chance.uniform(0, longest))
            killed += process.is_alive()
            process.kill()
            process.join(30)
            assert not out.exists() or file_hash(out) == whole
            assert all(proven(path) for path in stored(store))
            # Something is always left to do: the file itself and about half of the pieces go.
            out.unlink(missing_ok=True)
            for path in stored(store):
                if chance.random() < 0.5:
                    path.unlink()
        assert killed >= 25
        movie(segment, out, store)
        assert file_hash(out) == whole
        trim(store / "pieces", 10**12)
        assert [path.name for path in tmp_path.rglob("*.partial*")] == []

    @pytest.mark.slow
    def test_a_stopped_render_goes_on_from_the_pieces_it_has(self, segment, tmp_path):
        code = (
            "import sys; from pathlib import Path; from tests.render.movies import checked, movie\n"
            "movie(checked(Path(sys.argv[1])), Path(sys.argv[2]), Path(sys.argv[3]))"
        )
        folder, out, store = tmp_path / "p", tmp_path / "a.mp4", tmp_path / "store"
        checked(folder)
        process = subprocess.Popen([sys.executable, "-c", code, str(folder), str(out), str(store)])
        deadline = time.monotonic() + 60
        while len(stored(store)) < 3 and process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.002)
        process.kill()
        process.wait(30)
        found = len(stored(store))
        assert found >= 2
        told = movie(segment, out, store)
        assert frames_drawn(told) < segment.plan.frames


def test_interlaced_files_are_cut_between_whole_frames(segment):
    """Two pictures are woven into one frame, so a stretch with an odd number of them would tear one apart."""
    fields = replace(WEB, fields="top")
    shots = segment.plan.shots
    odd = replace(
        segment.plan,
        shots=tuple(
            replace(shot, span=Span(shot.span.start + (1 if k else 0), shot.span.end + (k + 1 < len(shots))))
            for k, shot in enumerate(shots)
        ),
    )
    assert any(shot.span.end % 2 for shot in odd.shots)
    parts = stretches(odd, segment.facts, segment.look, fields)
    assert all(part.span.start % 2 == 0 for part in parts)
    assert [part.span.start for part in parts[1:]] == [part.span.end for part in parts[:-1]]
    assert (parts[0].span.start, parts[-1].span.end) == (0, odd.frames)
    whole = stretches(segment.plan, segment.facts, segment.look, fields)
    assert {part.key for part in whole}.isdisjoint(
        part.key for part in stretches(segment.plan, segment.facts, segment.look, WEB)
    )
