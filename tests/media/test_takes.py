"""Which take belongs to which line, where its voice is, what is wrong with it, and how its words are timed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from segmentkit.errors import MediaUnusable
from segmentkit.facts import SpeechRequest, WordSource
from segmentkit.media import align
from segmentkit.media import guide as guide_module
from segmentkit.media import voice as voice_module
from segmentkit.media.activity import faults, find_speech
from segmentkit.media.guide import GuideVoice
from segmentkit.media.sound import read_sound, to_mono, write_wav
from segmentkit.media.store import Store
from segmentkit.media.takes import find_takes, unused_files
from segmentkit.media.voice import paced, readings, syllables

RATE = 48_000
LINE = (
    "Now the downswing. Stop it at impact, and there's daylight between her hips and that line, and her chest has"
    " lifted. Her hips have moved toward the ball."
)


def request(beat="impact", line=0, lines=1, words=LINE, good=None, guide="en-us", pace=150.0, language="en"):
    return SpeechRequest(
        beat=beat, line=line, lines=lines, speaker="presenter", words=tuple(words.split()), good=good, guide=guide,
        pace=pace, language=language,
    )  # fmt: skip


def touch(folder, *names):
    for name in names:
        (folder / name).write_bytes(b"")


def silence(seconds):
    return np.zeros((round(seconds * RATE), 1), np.float32)


def noise(seconds, level, seed=5):
    random = np.random.default_rng(seed)
    return (random.standard_normal((round(seconds * RATE), 1)) * 10 ** (level / 20)).astype(np.float32)


@pytest.fixture(scope="module")
def spoken(tmp_path_factory):
    """A voice that is not the guide's own, with the true start of each word: sound (n, 1) and samples."""
    with GuideVoice(Store(tmp_path_factory.mktemp("voice"))) as voice:
        reading = voice.speak(tuple(LINE.split()), "en-gb-scotland+f2", 140)
    sound = to_mono(read_sound(reading.path))[: int(reading.length * RATE)]
    return sound * 0.6, [int(start * RATE) for start in reading.words]


class TestNames:
    def test_the_last_take_is_used_whatever_its_format(self, tmp_path):
        touch(tmp_path, "impact.wav", "impact_t02.FLAC", "impact_t10.m4a", "impact_t9.wav", "other.wav", "notes.txt")
        assert find_takes(tmp_path, [request()])[("impact", 0)].name == "impact_t10.m4a"

    @pytest.mark.parametrize("mark", ["t02", "2", "T2"])
    def test_the_take_marked_as_good_is_used(self, tmp_path, mark):
        touch(tmp_path, "impact.wav", "impact_t02.wav", "impact_t03.wav")
        assert find_takes(tmp_path, [request(good=mark)])[("impact", 0)].name == "impact_t02.wav"

    def test_a_name_without_number_is_take_1(self, tmp_path):
        touch(tmp_path, "impact.wav", "impact_t02.wav")
        assert find_takes(tmp_path, [request(good="t01")])[("impact", 0)].name == "impact.wav"

    def test_lines_are_numbered_from_1(self, tmp_path):
        touch(tmp_path, "call_l1.wav", "call_l2.wav", "call_l2_t02.wav")
        found = find_takes(tmp_path, [request("call", line, 3) for line in range(3)])
        assert {key: path.name for key, path in found.items()} == {
            ("call", 0): "call_l1.wav", ("call", 1): "call_l2_t02.wav",
        }  # fmt: skip

    def test_a_mark_holds_for_the_lines_that_have_that_take(self, tmp_path):
        touch(tmp_path, "call_l1.wav", "call_l2.wav", "call_l2_t02.wav", "call_l2_t03.wav")
        found = find_takes(tmp_path, [request("call", line, 2, good="t02") for line in range(2)])
        assert [path.name for path in found.values()] == ["call_l1.wav", "call_l2_t02.wav"]

    def test_beats_whose_own_names_end_like_a_line_or_a_take(self, tmp_path):
        touch(tmp_path, "wall_l2.wav", "wall_t02.wav", "wall.wav", "wall_l2_t02.wav")
        found = find_takes(tmp_path, [request("wall"), request("wall_l2"), request("wall_t02")])
        assert {key[0]: path.name for key, path in found.items()} == {
            "wall": "wall.wav", "wall_l2": "wall_l2_t02.wav", "wall_t02": "wall_t02.wav",
        }  # fmt: skip

    def test_no_take_is_no_fault(self, tmp_path):
        assert find_takes(tmp_path, [request()]) == {}

    @pytest.mark.parametrize(
        ("names", "wanted", "said"),
        [
            (["impact.wav"], request(good="t04"), r"t04 of beat 'impact' .* there is impact\.wav .* impact_t04\.wav"),
            ([], request(good="t04"), "no take of it at all"),
            (["impact.wav", "impact.flac"], request(), "take 1 of the same line as impact.flac"),
            (["impact.wav", "impact_t01.wav"], request(), "take 1 of the same line"),
            (["impact.wav"], request(lines=2), r"has 2 lines, .* impact_l1\.wav to impact_l2\.wav"),
            (["impact.wav"], request(good="best"), "'best' .* is not a take"),
        ],
        ids=["marked-missing", "nothing-marked", "two-formats", "two-numbers", "which-line", "bad-mark"],
    )
    def test_what_cannot_be_told_is_asked(self, tmp_path, names, wanted, said):
        touch(tmp_path, *names)
        with pytest.raises(MediaUnusable, match=said):
            find_takes(tmp_path, [wanted])

    def test_a_missing_folder(self, tmp_path):
        with pytest.raises(MediaUnusable, match="no such folder"):
            find_takes(tmp_path / "takes", [request()])

    def test_files_that_fit_nothing_are_named_with_what_was_meant(self, tmp_path):
        touch(tmp_path, "impact.wav", "imapct_t02.wav", "zzz.wav", ".hidden.wav")
        assert unused_files(tmp_path, [request()]) == (
            "imapct_t02.wav — belongs to no beat with words — did you mean impact.wav?",
            "zzz.wav — belongs to no beat with words — name it after its beat, or take it away",
        )


class TestFindingTheVoice:
    @pytest.mark.parametrize("level", [None, -70, -60, -50, -42])
    def test_both_ends_lie_within_the_handles_in_any_room(self, spoken, level):
        """Handles of 100 ms before and 250 ms after must hold the whole voice; soft consonants sink into noise."""
        sound, starts = spoken
        take = np.concatenate([silence(1.0), sound, silence(1.2)])
        if level is not None:
            take = take + noise(len(take) / RATE, level)
        speech = find_speech(take)
        assert -0.02 * RATE <= speech.begin - (RATE + starts[0]) <= 0.1 * RATE
        assert -0.25 * RATE <= speech.end - (RATE + len(sound)) <= 0.05 * RATE

    def test_a_low_recording_is_found_as_well_as_a_loud_one(self, spoken):
        take = np.concatenate([silence(0.5), spoken[0], silence(0.5)]) + noise(len(spoken[0]) / RATE + 1, -60)
        loud, low = find_speech(take), find_speech(take * 0.05)
        assert abs(loud.begin - low.begin) <= 480
        assert abs(loud.end - low.end) <= 9600

    def test_pauses_are_found(self, spoken):
        sound, starts = spoken
        cut = starts[3]
        take = np.concatenate([silence(0.3), sound[:cut], silence(1.5), sound[cut:], silence(0.3)])
        take += noise(len(take) / RATE, -65)
        begin, end = max(find_speech(take).pauses, key=lambda pause: pause[1] - pause[0])
        assert end - begin == pytest.approx(1.5 * RATE, abs=0.5 * RATE)
        assert end == pytest.approx(0.3 * RATE + cut + 1.5 * RATE, abs=0.08 * RATE)

    def test_a_click_long_before_and_a_chair_long_after_are_not_speech(self, spoken):
        take = np.concatenate([silence(2), spoken[0], silence(2)]) + noise(4 + len(spoken[0]) / RATE, -65)
        clean = find_speech(take)
        take[RATE // 2 : RATE // 2 + 800] += noise(800 / RATE, -15)
        take[-RATE : -RATE + 1500] += noise(1500 / RATE, -20)
        found = find_speech(take)
        assert (found.begin, found.end, found.pauses) == (clean.begin, clean.end, clean.pauses)

    @pytest.mark.parametrize(
        "sound",
        [silence(3), noise(3, -50), silence(0.005), noise(3, -20)],
        ids=["silent", "hiss", "nothing", "loud-hiss"],
    )
    def test_where_nobody_speaks_nothing_is_found(self, sound):
        assert find_speech(sound) is None


class TestFaults:
    def heard(self, sound):
        return " | ".join(faults(sound, find_speech(sound)))

    @pytest.fixture
    def take(self, spoken):
        take = np.concatenate([silence(0.6), spoken[0], silence(0.6)])
        return take + noise(len(take) / RATE, -68)

    def test_a_clean_take_has_none(self, take):
        assert self.heard(take) == ""

    def test_clipping(self, take):
        assert "clipped in" in self.heard(np.clip(take * 8, -0.98, 0.98))

    def test_too_quiet(self, take):
        assert "very quiet, -50 LUFS" in self.heard(take * 0.03)

    @pytest.mark.parametrize("mains", [50, 60])
    def test_hum_is_named_by_its_frequency(self, take, mains):
        time = np.arange(len(take)) / RATE
        hum = sum(np.sin(2 * np.pi * mains * k * time + k) * 10 ** (-46 / 20) / k for k in (1, 2, 3))
        assert f"hum at {mains} Hz" in self.heard(take + hum[:, None].astype(np.float32))

    def test_noise(self, take):
        assert "noisy, the room is only" in self.heard(take + noise(len(take) / RATE, -40))


class TestReadings:
    @pytest.fixture
    def project(self, tmp_path, spoken):
        (tmp_path / "takes").mkdir()
        sound, starts = spoken
        cut = starts[3]
        take = np.concatenate([silence(0.8), sound[:cut], silence(0.9), sound[cut:], silence(1.0)])
        write_wav(tmp_path / "takes" / "impact.wav", take + noise(len(take) / RATE, -65))
        truth = [0.8 + start / RATE + (0.9 if k >= 3 else 0) for k, start in enumerate(starts)]
        return tmp_path, truth

    def test_a_take_is_trimmed_with_handles_and_every_word_is_timed(self, project):
        folder, truth = project
        (found,) = readings([request()], folder / "takes", Store(folder / "store"))
        assert found.path == folder / "takes" / "impact.wav"
        assert not found.is_guide
        assert found.start == pytest.approx(0.7, abs=0.06)
        assert [word.text for word in found.words] == LINE.split()
        errors = [abs(float(found.start + word.start) - t) for word, t in zip(found.words, truth, strict=True)]
        assert np.percentile(errors, 95) <= found.expected_error

    @pytest.mark.slow
    def test_lines_without_a_take_are_spoken_by_the_guide(self, project):
        folder, _ = project
        told = []
        wanted = [request(), request("close", words="Keep your room.")]
        found = readings(wanted, folder / "takes", Store(folder / "store"), progress=lambda *done: told.append(done))
        assert [(r.beat, r.is_guide) for r in found] == [("impact", False), ("close", True)]
        assert found[1].word_source is WordSource.GUIDE
        assert told == [(1, 2), (2, 2)]

    @pytest.mark.slow
    def test_the_second_run_decodes_and_speaks_nothing(self, project, monkeypatch):
        folder, _ = project
        wanted = [request(), request("close", words="Keep your room.")]
        first = readings(wanted, folder / "takes", Store(folder / "store"))
        monkeypatch.setattr(voice_module, "read_sound", None)
        monkeypatch.setattr(guide_module.subprocess, "Popen", None)
        assert readings(wanted, folder / "takes", Store(folder / "store")) == first

    def test_without_takes_and_guide_the_pace_gives_the_length(self, tmp_path):
        (found,) = readings([request(guide=None, pace=120)], None, Store(tmp_path))
        assert found.path is None
        assert found.word_source is WordSource.PACE
        assert found.length == Fraction(len(LINE.split()) * 60, 120)

    def test_without_the_extras_the_pace_stands_in_and_says_so(self, project, monkeypatch):
        def missing(name):
            raise guide_module.importlib.metadata.PackageNotFoundError(name)

        monkeypatch.setattr(guide_module.importlib.metadata, "version", missing)
        monkeypatch.setattr(align.importlib.util, "find_spec", lambda _: None)
        folder, truth = project
        take, close = readings([request(), request("close")], folder / "takes", Store(folder / "store"))
        assert close.path is None
        assert 'pip install "segmentkit[guide]"' in close.notes[0]
        assert take.word_source is WordSource.PACE
        errors = [abs(float(take.start + word.start) - t) for word, t in zip(take.words, truth, strict=True)]
        assert np.percentile(errors, 95) <= take.expected_error

    def test_an_unknown_guide_voice_is_an_error_not_a_silence(self, tmp_path):
        with pytest.raises(MediaUnusable, match="no such voice"):
            readings([request(guide="en-uss")], None, Store(tmp_path))

    def test_a_take_without_a_voice(self, tmp_path):
        write_wav(tmp_path / "impact.wav", noise(3, -60))
        with pytest.raises(MediaUnusable, match=r"impact\.wav — 3\.0 s in which no voice stands out"):
            readings([request()], tmp_path, Store(tmp_path / "store"))

    @pytest.mark.slow
    def test_a_take_of_other_words_is_doubted(self, project):
        folder, _ = project
        (found,) = readings([request(words=f"{LINE} {LINE}")], folder / "takes", Store(folder / "store"))
        assert any("is this the right take?" in note for note in found.notes)


class TestPace:
    def test_words_are_spread_by_syllables_and_rests(self):
        starts = paced(("Stop.", "Understanding", "it"), Fraction(3))
        assert starts[0] == 0
        gaps = [b - a for a, b in pairwise((*starts, Fraction(3)))]
        assert gaps[1] > gaps[0] > gaps[2]  # four syllables, then one with a full stop, then one

    @pytest.mark.parametrize(("word", "count"), [("hips", 1), ("daylight", 2), ("7", 2), ("—", 1), ("腰を回す", 2)])
    def test_syllables(self, word, count):
        assert syllables(word) == count

    def test_one_word_starts_at_once(self):
        assert paced(("Thin!",), Fraction(1)) == (0,)


def test_the_guide_voice_says_noted_words_as_the_note_says(tmp_path):
    """The voice's own names for the sounds tell; the words of the reading stay those of the script."""
    store = Store(tmp_path)
    plain = request(words="Here is Siobhan with her swing.")
    noted = replace(plain, respelled=("here", "is", "shi-vawn", "with", "her", "swing."))
    (as_written,), (as_noted,) = (readings([one], None, store) for one in (plain, noted))
    assert as_noted.path != as_written.path
    assert [word.text for word in as_noted.words] == list(plain.words)
    with GuideVoice(store) as voice:
        direct = voice.speak(noted.respelled, "en-us", 150.0)
    assert as_noted.path.read_bytes() == direct.path.read_bytes()
