"""What a leader looks and sounds like, measured on code values and samples."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.geometry import Size
from segmentkit.media.bars import bars
from segmentkit.plan.leader import leader_plan
from segmentkit.render.leader import LeaderArtist
from segmentkit.render.leader_sound import with_leader
from segmentkit.storyboard.leaders import leader
from segmentkit.storyboard.load_look import load_look, shipped_looks
from segmentkit.timebase import Rate, sample_of_frame

R25, NTSC = Rate(Fraction(25)), Rate(Fraction(30000, 1001))
SMALL = Size(320, 180)
ROWS = (("The Dune Course Hour", "Hips toward the ball"), ("Length", "00:00:10:00"), ("Date", "2026-11-25"))
# ITU-R BT.709-6 equations at 75 %, 8 bits, limited range: yellow, cyan, green, magenta, red, blue. The same values were
# measured in what libavfilter's smptehdbars draws.
SEVENTY_FIVE = [(168, 44, 136), (145, 147, 44), (133, 63, 52), (63, 193, 204), (51, 109, 212), (28, 212, 120)]


def artist(rate=R25, name="ten-hours", look="dune", size=SMALL, frames=250, pictures=1):
    plan = leader_plan(leader(name), frames, rate)
    return LeaderArtist(load_look(look, Path()), size, plan, ROWS, pictures), plan


class TestBars:
    def test_full_field_bars_have_the_published_code_values(self):
        planes = bars("100/0/75/0", Size(1920, 1080))
        seen = [(int(planes.y[500, 120 + 240 * k]), int(planes.u[250, 60 + 120 * k]), int(planes.v[250, 60 + 120 * k]))
                for k in range(8)]  # fmt: skip
        assert seen == [(235, 128, 128), *SEVENTY_FIVE, (16, 128, 128)]
        # Edges are sharp: nothing between two bars.
        assert {tuple(c) for c in np.stack([planes.y[0, ::2], planes.u[0], planes.v[0]], axis=1).tolist()} == set(seen)

    def test_they_follow_from_the_equations_of_bt_709(self):
        for (r, g, b), codes in zip(
            [(1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1)], SEVENTY_FIVE, strict=True
        ):
            y = 0.75 * (0.2126 * r + 0.7152 * g + 0.0722 * b)
            cb, cr = (0.75 * b - y) / 1.8556, (0.75 * r - y) / 1.5748
            assert codes == (round(16 + 219 * y), round(128 + 224 * cb), round(128 + 224 * cr))

    def test_smpte_bars_agree_with_the_full_field_ones(self):
        planes = bars("smpte", Size(1920, 1080))
        row = {tuple(c) for c in np.stack([planes.y[100, ::2], planes.u[50], planes.v[50]], axis=1).tolist()}
        assert set(SEVENTY_FIVE) <= row
        assert (180, 128, 128) in row  # white at 75 %
        assert (104, 128, 128) in row  # the grey of 40 % beside them


class TestPictures:
    def test_every_part_has_as_many_pictures_as_frames(self):
        for rate in (R25, NTSC):
            drawn, plan = artist(rate)
            for part in (*plan.before, plan.after):
                made = [(picture.frame, picture.repeat) for picture in drawn.pictures(part)]
                assert sum(repeat for _, repeat in made) == part.span.frames
                assert [frame for frame, _ in made] == list(np.cumsum([0, *(repeat for _, repeat in made)])[:-1])

    def test_interlaced_files_get_two_pictures_a_frame(self):
        drawn, plan = artist(pictures=2)
        assert sum(p.repeat for p in drawn.pictures(plan.before[-1])) == 2 * plan.before[-1].span.frames

    def test_the_last_thing_seen_is_a_two_with_the_pop_then_black(self):
        drawn, plan = artist()
        clock = plan.before[-1]
        seen = {p.frame: (p.planes.y.copy(), p.repeat) for p in drawn.pictures(clock)}
        pop = plan.pop - clock.span.start
        assert int(seen[pop][0].max()) > 150
        assert seen[pop + 1][1] == clock.span.end - plan.pop - 1 == 49
        assert set(np.unique(seen[pop + 1][0])) == {16}

    def test_the_clock_goes_round_once_a_second(self):
        drawn, plan = artist()
        lit = [int((p.planes.y > 150).sum()) for p in drawn.pictures(plan.before[-1]) if p.frame < 75]
        assert lit[0] > lit[12] > lit[24]
        assert lit[50] == pytest.approx(lit[25], rel=0.1)  # another digit on the same full ring

    @pytest.mark.parametrize("look", shipped_looks())
    @pytest.mark.parametrize("size", [Size(1280, 720), Size(720, 1280), Size(720, 720)])
    def test_a_slate_is_dark_and_keeps_within_the_safe_area(self, look, size):
        rows = (*ROWS, *((f"Line {k}", "a value of some length, such as people write") for k in range(12)))
        plan = leader_plan(leader("ten-hours"), 250, R25)
        slate = LeaderArtist(load_look(look, Path()), size, plan, rows).slate()
        ground = int(slate.y[0, 0])
        assert ground < 60
        ys, xs = np.nonzero(slate.y > ground + 40)
        # Title safe, 5 % an edge: SMPTE ST 2046-1 (from memory).
        assert xs.min() >= 0.05 * size.width - 2
        assert xs.max() <= 0.95 * size.width + 2
        assert ys.min() >= 0.05 * size.height - 2
        assert ys.max() <= 0.95 * size.height + 2


def at(rate, frame):
    return sample_of_frame(frame, rate)


class TestSound:
    def test_tone_pop_silence_programme_silence(self):
        for name, rate, peak in (("ten-hours", R25, -18.0), ("one-hour", NTSC, -20.0)):
            plan = leader_plan(leader(name), 250, rate)
            programme = np.full((sample_of_frame(250, rate), 2), 0.25, np.float32)
            whole = with_leader(programme, plan)
            assert len(whole) == at(rate, plan.frames)
            tone = whole[at(rate, 10) : at(rate, plan.before[0].span.end - 10)]
            # A sine's RMS lies 3.01 dB below its peak.
            rms = 10 * np.log10(np.mean(np.square(tone.astype(np.float64))))
            assert rms == pytest.approx(peak - 3.01, abs=0.02)
            assert 20 * np.log10(np.abs(tone).max()) == pytest.approx(peak, abs=0.01)
            spectrum = np.abs(np.fft.rfft(tone[:48_000, 0]))
            assert int(spectrum.argmax()) == 1000
            heard = np.nonzero(np.abs(whole[at(rate, plan.before[1].span.start) : at(rate, plan.programme.start), 0]))[
                0
            ]
            first, last = (
                heard.min() + at(rate, plan.before[1].span.start),
                heard.max() + at(rate, plan.before[1].span.start),
            )
            assert at(rate, plan.pop) <= first < at(rate, plan.pop) + 48
            assert at(rate, plan.pop + 1) - 48 <= last < at(rate, plan.pop + 1)
            start, end = at(rate, plan.programme.start), at(rate, plan.programme.end)
            assert (whole[start:end] == 0.25).all()
            assert not whole[end:].any()
