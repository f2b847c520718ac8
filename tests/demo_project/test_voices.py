"""The demo's readings and music: every line has its take, levels are fit to use, the bed runs into itself."""

from __future__ import annotations

import json

import numpy as np
import pytest

from segmentkit.facts import WordSource
from segmentkit.media.loudness import measure
from segmentkit.media.sound import read_sound
from segmentkit.media.takes import find_takes, unused_files
from segmentkit.media.voice import readings
from segmentkit.plan.speech import speech_requests
from segmentkit.storyboard.load import load
from segmentkit.storyboard.model import Beat
from tests.demo import DEMO, STORE

RATE = 48_000


@pytest.fixture(scope="module")
def requests():
    """Of the segment and of its cuts."""
    board = load(DEMO / "storyboard.yaml").board
    own = [beat for cut in board.cuts.values() for beat in cut.beats if isinstance(beat, Beat)]
    return speech_requests(board.model_copy(update={"beats": (*board.beats, *own)}))


class TestTakes:
    def test_every_line_has_a_take_and_every_take_a_line(self, requests):
        found = find_takes(DEMO / "takes", requests)
        assert set(found) == {(request.beat, request.line) for request in requests}
        assert unused_files(DEMO / "takes", requests) == ()

    def test_they_take_little_room(self):
        assert sum(path.stat().st_size for path in (DEMO / "takes").iterdir()) < 2_500_000

    @pytest.mark.slow
    def test_each_says_its_words_at_a_readers_pace_without_a_fault(self, requests):
        """140 to 175 words a minute of voice: broadcast reading is 140 to 220, television slower."""
        for reading in readings(requests, DEMO / "takes", STORE):
            assert reading.notes == (), reading.beat
            assert reading.word_source is WordSource.ALIGNED
            pace = len(reading.words) * 60 / float(reading.length)
            assert 140 <= pace <= 175, f"{reading.beat}: {pace:.0f}"
            assert json.dumps([word.text for word in reading.words])

    @pytest.mark.parametrize("path", sorted((DEMO / "takes").glob("*.m4a")), ids=lambda path: path.stem)
    def test_levels_are_those_of_a_studio(self, path):
        found = measure(read_sound(path), dual_mono=True)
        assert -25 <= found.integrated <= -16
        assert found.true_peak <= -1


class TestMusic:
    def test_the_bed_runs_into_itself(self):
        """Its last two seconds are its first two again, as far as the coder lets them."""
        bed = read_sound(DEMO / "music" / "bed.m4a")
        assert len(bed) == 92 * RATE
        first, last = bed[RATE // 10 : 2 * RATE - RATE // 10], bed[90 * RATE + RATE // 10 : 92 * RATE - RATE // 10]
        assert np.square(first - last).mean() < np.square(first).mean() * 10**-1.2

    @pytest.mark.slow
    @pytest.mark.parametrize("name", ["bed.m4a", "sting.m4a"])
    def test_levels(self, name):
        found = measure(read_sound(DEMO / "music" / name))
        assert found.integrated == pytest.approx(-20, abs=0.3)
        assert found.true_peak < -3
        assert (DEMO / "music" / name).stat().st_size < 1_000_000
