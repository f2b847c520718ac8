"""The guide voice: word times, the store, and everything that can go wrong with a process."""

from __future__ import annotations

import os
import sys
import textwrap
from itertools import pairwise

import pytest

from segmentkit.media import guide
from segmentkit.media.guide import GuideFailed, GuideMissing, GuideVoice, word_starts
from segmentkit.media.sound import duration, read_sound
from segmentkit.media.store import Store

LINE = (
    "Here's the drill, and for this part you don't need a club. Stand a hand's width in front of a wall — in golf"
    " posture, arms across your chest, 10 slow ones."
)
WORDS = LINE.split()


@pytest.fixture
def voice(tmp_path):
    with GuideVoice(Store(tmp_path)) as voice:
        yield voice


class TestSpeaking:
    def test_every_word_has_a_time_within_the_reading(self, voice):
        reading = voice.speak(WORDS, "en-us", 150)
        assert len(reading.words) == len(WORDS)
        assert all(a <= b for a, b in pairwise(reading.words))
        assert reading.words[0] < 0.05
        assert reading.words[-1] < reading.length <= duration(read_sound(reading.path)) + 1

    def test_joined_words_are_told_apart(self, voice):
        """The library gives one event for "in the"; both words must get a time of their own."""
        reading = voice.speak(["stand", "in", "the", "wind"], "en-us", 150)
        stand, inside, the, wind = reading.words
        assert stand < inside < the < wind

    @pytest.mark.parametrize("pace", [120, 150, 180])
    def test_the_pace_is_kept_within_a_tenth(self, voice, pace):
        reading = voice.speak(WORDS * 2, "en-us", pace)
        assert len(WORDS) * 2 / (float(reading.length) / 60) == pytest.approx(pace, rel=0.10)

    def test_another_language_and_a_language_tag_that_is_no_voice_name(self, voice):
        german = voice.speak(["Die", "Hüfte", "bleibt", "an", "der", "Linie"], "de", 140)
        british = voice.speak(["The", "hip", "stays", "on", "the", "line"], "en-gb", 140)
        american = voice.speak(["The", "hip", "stays", "on", "the", "line"], "en-us", 140)
        assert len(german.words) == 6
        assert british.path.read_bytes() != american.path.read_bytes()

    def test_a_warm_store_needs_no_process(self, tmp_path):
        with GuideVoice(Store(tmp_path)) as first:
            reading = first.speak(WORDS, "en-us", 150)
        with GuideVoice(Store(tmp_path)) as second:
            assert second.speak(WORDS, "en-us", 150) == reading
            assert second._process is None

    def test_another_word_voice_or_pace_is_spoken_anew(self, voice):
        paths = {
            voice.speak(words, name, pace).path
            for words, name, pace in (
                (WORDS, "en-us", 150),
                (WORDS[:-1], "en-us", 150),
                (WORDS, "en-us+f3", 150),
                (WORDS, "en-us", 170),
            )
        }
        assert len(paths) == 4

    def test_a_lost_sound_is_made_again(self, voice):
        reading = voice.speak(WORDS, "en-us", 150)
        reading.path.unlink()
        assert voice.speak(WORDS, "en-us", 150).path.is_file()


class TestFaults:
    def test_an_unknown_voice_names_near_ones(self, voice):
        with pytest.raises(GuideFailed, match=r"no such voice .* en-us"):
            voice.speak(WORDS, "en-uss", 150)
        assert voice.speak(WORDS, "en-us", 150).length > 5  # the process is still of use

    def test_a_missing_extra_says_what_to_install(self, voice, monkeypatch):
        def missing(name):
            raise guide.importlib.metadata.PackageNotFoundError(name)

        monkeypatch.setattr(guide.importlib.metadata, "version", missing)
        with pytest.raises(GuideMissing, match=r'pip install "segmentkit\[guide\]"'):
            voice.speak(WORDS, "en-us", 150)

    @pytest.mark.parametrize(
        ("worker", "said"),
        [
            ("print('{\"hertz\": 1}', flush=True)\ninput()", "ended without an answer"),
            ("print('{\"hertz\": 1}', flush=True)\nimport time\ntime.sleep(60)", "gave no answer for 0.7 s"),
            ('print(\'{"fault": "missing"}\', flush=True)', "not installed"),
            ('print(\'{"fault": "no data"}\', flush=True)', "could not be loaded .no data."),
            ("raise SystemExit(3)", "ended without an answer"),
        ],
        ids=["dies", "hangs", "missing", "broken", "never-starts"],
    )
    def test_a_process_that_fails(self, tmp_path, monkeypatch, worker, said):
        script = tmp_path / "worker.py"
        script.write_text(textwrap.dedent(worker))
        real = guide.subprocess.Popen

        def popen(command, **options):
            assert command[0] == sys.executable
            return real([sys.executable, str(script)], **options)

        monkeypatch.setattr(guide.subprocess, "Popen", popen)
        with (
            GuideVoice(Store(tmp_path / "store"), answer_time=0.7) as voice,
            pytest.raises((GuideFailed, GuideMissing), match=said),
        ):
            voice.speak(WORDS, "en-us", 150)
        assert not [path for path in (tmp_path / "store").rglob("*") if path.is_file()]

    def test_the_process_ends_with_the_voice(self, tmp_path):
        with GuideVoice(Store(tmp_path)) as voice:
            voice.speak(WORDS, "en-us", 150)
            process = voice._process
            assert process.poll() is None
        with pytest.raises(ProcessLookupError):
            os.kill(process.pid, 0)


class TestWordStarts:
    def test_a_joined_word_falls_on_the_phoneme_its_letters_point_to(self):
        words = [(0, 100), (9, 900)]
        sounds = [(0, 100, "I"), (0, 200, "n"), (0, 400, "D"), (0, 500, "@"), (9, 900, "w"), (9, 990, "_:")]
        assert word_starts("go-in the wind", [(0, 100), (10, 900)], sounds, 1000) == [100, 400, 900]
        assert word_starts("in my own wind", [(0, 100), (10, 900)], sounds, 1000) == [100, 200, 400, 900]
        assert words[0][1] == 100

    def test_several_events_in_one_word_count_once(self):
        events = [(0, 10), (0, 40), (1, 60), (4, 90)]
        assert word_starts("120 fps", events, [(0, 10, "w"), (4, 90, "f")], 200) == [10, 90]

    def test_no_event_at_all_still_gives_times(self):
        starts = word_starts("a b c", [], [], 300)
        assert starts == [0, 100, 200]
