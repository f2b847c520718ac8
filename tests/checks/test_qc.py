"""Deliberately spoiled files are caught, each by the check that is about it; a good file passes all."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from segmentkit.checks.qc import BEYOND, QC_CHECKS, SUBJECTS, findings_of, judge, overall
from segmentkit.checks.qc_check import Outcome
from segmentkit.checks.qc_wanted import Wanted, moves
from segmentkit.checks.registry import BY_ID
from segmentkit.deliver.qc_sidecars import sidecars_beside
from segmentkit.findings import Severity
from segmentkit.geometry import Rect, Size
from segmentkit.media.avframes import plane_view
from segmentkit.media.screen import screen
from segmentkit.plan.clean import emptied
from segmentkit.screened import Screened
from segmentkit.timebase import Rate, Span
from tests import spoiled
from tests.clips import Track, make_clip, steady, stored
from tests.spoiled import at_loudness, delivery, failing, plan, sound, texts, told, verdicts, wanted, write


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    return write(tmp_path_factory.mktemp("good") / "good.mp4")


@pytest.fixture(scope="module")
def good_measured(good):
    return spoiled.measured(good)


def judged(measured: Screened, asked: Wanted) -> dict:
    return {one.check.id: one for one in judge(measured, asked)}


def test_a_good_file_passes_every_check(good, good_measured):
    spoiled.write_captions(good)
    asked = wanted(captions=True, spoken=(tuple(one.span for one in spoiled.cues()),))
    asked = replace(asked, sidecars=sidecars_beside(good.parent, good.stem, spoiled.RATE))
    found = judged(good_measured, asked)
    assert {one.outcome for one in found.values()} == {Outcome.PASS}, told(found)
    assert overall(tuple(found.values())) is Outcome.PASS
    assert all(one.value for one in found.values())


@pytest.mark.slow
def test_without_a_storyboard_it_says_what_could_not_be_checked_and_why(good):
    found = {one.check.id: one for one in judge(screen(good, threads=1), Wanted())}
    open_ = {id_ for id_, one in found.items() if one.outcome is Outcome.NOT_CHECKED}
    assert open_ == {
        "qc-length", "qc-coding", "qc-captions", "qc-frozen", "qc-cuts", "qc-loudness", "qc-true-peak", "qc-silence",
        "qc-sync", "qc-safe-area", "qc-text-size", "qc-contrast", "qc-text-seen",
    }  # fmt: skip
    assert all(found[id_].because for id_ in open_)
    assert not failing(found)


# --- spoiled pictures ------------------------------------------------------------------------------------------------


def with_frames(change):
    """The pictures, changed by a function of number and picture."""
    return lambda k: change(k, spoiled.picture(k))


def black_at(k, made):
    return np.zeros_like(made) if 60 <= k < 64 else made


def flash_at_cut(k, made):
    """The last frame of a shot is one of another picture altogether."""
    return 255 - made[::-1, ::-1] if k == 99 else made


def frozen_while_running(k, made):
    return spoiled.picture(110) if 110 <= k < 140 else made


def moved_cut(k, made):
    return spoiled.picture(49) if k == 50 else made


def white_flashes(k, made):
    """Four flashes a second over the whole picture."""
    return np.full_like(made, 245) if 54 <= k < 90 and (k - 54) // 3 % 2 == 0 else made


def red_flashes(k, made):
    if not 54 <= k < 90:
        return made
    return np.broadcast_to(np.array([235, 10, 10] if (k - 54) // 3 % 2 == 0 else [60, 60, 60], np.uint8), made.shape)


SPOILED_PICTURES = {
    "qc-black": (black_at, Span(60, 64)),
    "qc-flash-frame": (flash_at_cut, Span(99, 100)),
    "qc-frozen": (frozen_while_running, Span(111, 140)),
    "qc-flashes": (white_flashes, Span(54, 90)),
    "qc-red-flashes": (red_flashes, Span(54, 90)),
}


@pytest.mark.slow
@pytest.mark.parametrize("id_", SPOILED_PICTURES)
def test_spoiled_pictures_are_caught(id_, tmp_path):
    change, where = SPOILED_PICTURES[id_]
    found = verdicts(write(tmp_path / "a.mp4", pictures=with_frames(change)))
    assert found[id_].outcome is Outcome.FAIL, told(found)
    span = found[id_].flags[0].span
    assert span is not None
    assert span.overlap(where) >= where.frames / 2
    assert found[id_].flags[0].time.startswith("00:00:0")


@pytest.mark.slow
def test_a_cut_one_frame_late_is_caught(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", pictures=with_frames(moved_cut)))
    assert failing(found) == {"qc-cuts"}, told(found)
    (flag,) = found["qc-cuts"].flags
    assert flag.span == Span(51, 52)
    assert flag.finding.severity is Severity.ERROR
    assert "one frame earlier" in flag.finding.what


@pytest.mark.slow
def test_an_illegal_level_is_caught_at_its_place(tmp_path):
    """White of RGB is a legal 235, so the frames are changed after they were made Y'CbCr."""

    def frame(k):
        made = stored(spoiled.picture(k), spoiled.LOSSLESS)
        if 20 <= k < 30:
            plane_view(made, 0)[18:27, 16:144] = 251
        return made

    path = make_clip(
        tmp_path / "a.mp4", steady(25, 6), size=spoiled.SIZE, coding=spoiled.LOSSLESS, frame=frame,
        tracks=[Track(samples=sound())],
    )  # fmt: skip
    found = verdicts(path)
    assert failing(found) == {"qc-levels"}, told(found)
    (flag,) = found["qc-levels"].flags
    assert flag.span == Span(20, 30)
    assert flag.area.x == pytest.approx(0.1, abs=0.02)
    assert flag.area.y == pytest.approx(0.2, abs=0.02)
    assert "8.0 %" in flag.finding.what


@pytest.mark.slow
def test_frozen_pictures_that_are_planned_pass(good_measured):
    frozen = good_measured.pictures.frozen
    assert any(span.overlap(Span(51, 100)) == 49 for span in frozen)
    assert judged(good_measured, wanted())["qc-frozen"].outcome is Outcome.PASS


def test_what_moves_by_plan():
    made = plan()
    assert [frame for frame in range(150) if not moves(made, frame)] == [0, *range(51, 100)]


# --- spoiled sound ---------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_file_that_is_too_loud(tmp_path):
    found = verdicts(write(tmp_path / "a.mov", heard=at_loudness(sound(), -14.8), sound_codec="pcm_s24le"))
    assert found["qc-loudness"].outcome is Outcome.FAIL, told(found)
    assert "1.2 LU above" in found["qc-loudness"].flags[0].finding.what


@pytest.mark.parametrize(("off", "outcome"), [(0.1, Outcome.PASS), (0.4, Outcome.WARN), (0.7, Outcome.FAIL)])
def test_how_far_off_its_loudness_may_be(good_measured, off, outcome):
    assert judged(good_measured, wanted(delivery=delivery(loudness=-16 - off)))["qc-loudness"].outcome is outcome


@pytest.mark.slow
def test_clipped_samples_and_their_true_peak(tmp_path):
    samples = sound()
    loud = int(np.abs(samples[:, 0]).argmax())
    samples[loud - 2000 : loud + 2000] = np.clip(samples[loud - 2000 : loud + 2000] * 8, -1, 1)
    found = verdicts(write(tmp_path / "a.mov", heard=samples, sound_codec="pcm_s24le"))
    assert {"qc-clipping", "qc-true-peak"} <= failing(found), told(found)
    (flag,) = found["qc-clipping"].flags
    assert loud / 1920 in range(flag.span.start - 2, flag.span.end + 2) or abs(flag.span.start - loud / 1920) < 3


@pytest.mark.slow
@pytest.mark.parametrize(("late", "fails"), [(0.05, False), (0.07, True), (-0.03, False), (-0.05, True)])
def test_late_and_early_sound(tmp_path, late, fails):
    shifted = np.roll(sound(), round(late * 48_000), axis=0)
    found = verdicts(write(tmp_path / "a.mp4", heard=shifted))
    assert (found["qc-sync"].outcome is Outcome.FAIL) is fails, told(found)
    if fails:
        assert f"{abs(late * 1000):.0f} ms {'late' if late > 0 else 'early'}" in found["qc-sync"].flags[0].finding.what


@pytest.mark.slow
def test_a_late_track_is_late_sound(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", start=Fraction(1, 5)))
    assert re.search("(199|200) ms late", found["qc-sync"].flags[0].finding.what)


@pytest.mark.slow
def test_sound_of_another_storyboard(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", heard=sound(seed=8)))
    assert found["qc-sync"].outcome is Outcome.FAIL
    assert found["qc-sync"].value == "not the planned sound"


@pytest.mark.slow
def test_a_missing_line_and_a_dropout(tmp_path):
    samples = sound()
    samples[96_000 : 96_000 + 60_000] = 0
    found = verdicts(write(tmp_path / "a.mp4", heard=samples))
    assert found["qc-silence"].outcome is Outcome.FAIL, told(found)
    assert found["qc-silence"].flags[0].span.start == pytest.approx(50, abs=2)
    short = sound()
    short[100_000:103_000] = 0
    found = verdicts(write(tmp_path / "b.mov", heard=short, sound_codec="pcm_s24le"))
    assert failing(found) == {"qc-dropouts"}, told(found)
    assert found["qc-dropouts"].flags[0].span.start == pytest.approx(52, abs=1)


@pytest.mark.slow
def test_a_dead_a_swapped_and_a_reversed_channel(tmp_path):
    dead, swapped, reversed_ = sound(), sound()[:, ::-1].copy(), sound()
    dead[:, 1] = 0
    reversed_[:, 1] = -reversed_[:, 0]
    for name, samples, says in (
        ("dead", dead, "right channel is silent"),
        ("swapped", swapped, "must not be swapped"),
        ("reversed", reversed_, "oppose one another"),
    ):
        found = verdicts(write(tmp_path / f"{name}.mov", heard=samples, sound_codec="pcm_s24le"))
        assert found["qc-channels"].outcome is Outcome.FAIL, name
        assert says in " ".join(flag.finding.what for flag in found["qc-channels"].flags)


@pytest.mark.slow
def test_no_sound_at_all(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", silent=True))
    assert {"qc-silence", "qc-tracks"} <= failing(found)
    assert found["qc-loudness"].outcome is Outcome.NOT_CHECKED


# --- spoiled file ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("frames", [149, 151])
def test_a_wrong_length(tmp_path, frames):
    found = verdicts(write(tmp_path / "a.mp4", frames=frames))
    assert found["qc-length"].outcome is Outcome.FAIL, told(found)
    assert "1 frame" in found["qc-length"].flags[0].finding.what


@pytest.mark.slow
def test_the_programme_between_leader_and_tail_has_the_length(tmp_path):
    """Two seconds before and one after it; only what lies between is judged."""
    head, tail = np.zeros((90, 160, 3), np.uint8), np.zeros((90, 160, 3), np.uint8)
    quiet = np.zeros((96_000, 2), np.float32)
    path = write(
        tmp_path / "a.mp4", frames=225,
        pictures=lambda k: head if k < 50 else tail if k >= 200 else spoiled.picture(k - 50),
        heard=np.concatenate([quiet, sound(), quiet[:48_000]]),
    )  # fmt: skip
    looks = spoiled.looks_for(plan(), texts(), 50)
    measured = screen(path, reference=sound(), looks=looks, programme=Span(50, 200), threads=1)
    found = judged(measured, wanted())
    assert not failing(found), told(found)
    assert "50 frames before and 25 after" in found["qc-length"].value
    found = judged(replace(measured, programme=Span(49, 200)), wanted())
    assert found["qc-length"].outcome is Outcome.FAIL


@pytest.mark.slow
def test_sound_that_ends_before_the_picture(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", heard=sound()[: 5 * 48_000]))
    assert found["qc-length"].outcome is Outcome.FAIL, told(found)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tags", "says"),
    [
        ({"location": "+54.6000+018.2000/"}, "a place"),
        ({"com.apple.quicktime.location.ISO6709": "+54.6000+018.2000/"}, "a place"),
        ({"comment": "/home/somebody/clips/take.mov"}, "a path"),
        ({"make": "A maker of phones"}, "a device"),
        ({"comment": "Rowan, ten years old"}, "a minor"),
    ],
)
def test_words_in_the_headers(tmp_path, good_measured, tags, says):
    """Headers of a short silent file; all else is that of the good one."""
    headed = screen(write(tmp_path / "a.mp4", tags=tags, frames=5, silent=True), threads=1).tags
    found = judged(replace(good_measured, tags=headed), wanted(private=(("the name of a minor", "Rowan"),)))
    assert failing(found) == {"qc-metadata"}
    assert found["qc-metadata"].outcome is Outcome.FAIL, headed
    whole = " ".join(flag.finding.what for flag in found["qc-metadata"].flags)
    assert says in whole
    # The report travels as well, so what was found is not repeated in it.
    assert not any(value in whole for value in tags.values())


def test_a_missing_a_broken_and_a_foreign_caption_file(tmp_path, good_measured):
    movie, measured = tmp_path / "a.mp4", good_measured

    def outcome(**changes):
        found = sidecars_beside(tmp_path, "a", spoiled.RATE)
        return judged(measured, wanted(captions=True, sidecars=found, **changes))["qc-captions"]

    assert outcome().outcome is Outcome.FAIL
    assert "0 caption files" in outcome().flags[0].finding.what
    file = spoiled.write_captions(movie)
    assert outcome().outcome is Outcome.PASS
    file.write_text(file.read_text("utf-8").replace("00:00:00.400", "00:00:00,400"), "utf-8")
    assert "cannot be read" in outcome().flags[0].finding.what
    spoiled.write_captions(movie, (Span(10, 70), Span(140, 170)))
    assert "after the programme's end" in outcome().flags[0].finding.what
    spoiled.write_captions(movie, (Span(10, 90),))
    foreign = outcome(spoken=(tuple(one.span for one in spoiled.cues()),))
    assert foreign.outcome is Outcome.WARN


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (delivery(size=Size(1920, 1080)), "size"),
        (delivery(rate=Rate(Fraction(50))), "rate"),
        (delivery(fields="top"), "fields"),
        (delivery(container="mxf"), "container"),
    ],
)
def test_a_file_of_another_kind(good_measured, asked, says):
    found = judged(good_measured, wanted(delivery=asked))["qc-coding"]
    assert found.outcome is Outcome.FAIL
    assert any(flag.finding.what.startswith(says) for flag in found.flags)


# --- spoiled texts ---------------------------------------------------------------------------------------------------


def test_a_text_outside_the_safe_area(good_measured):
    # 5 % of 160 is 8: an edge at 7 warns, one at 5 is past action safe (3.5 %, 5.6).
    for left, outcome in ((8, Outcome.PASS), (7, Outcome.WARN), (5, Outcome.FAIL)):
        spoilt = wanted(texts=texts(area=Rect(left, 60, 80, 10)))
        assert judged(good_measured, spoilt)["qc-safe-area"].outcome is outcome


def test_texts_too_small_or_too_pale(good_measured):
    found = judged(good_measured, wanted(texts=texts(cap_height=3.0, contrast=4.4)))
    assert found["qc-text-size"].outcome is Outcome.WARN
    assert found["qc-contrast"].outcome is Outcome.FAIL
    assert judged(good_measured, wanted(texts=texts(cap_height=2.4)))["qc-text-size"].outcome is Outcome.FAIL


@pytest.mark.slow
def test_a_text_that_is_not_there(tmp_path):
    plain = np.full((90, 160, 3), 120, np.uint8)
    path = write(tmp_path / "a.mp4", pictures=lambda k: plain if 110 <= k < 140 else spoiled.picture(k))
    found = verdicts(path)
    assert found["qc-text-seen"].outcome is Outcome.FAIL, told(found)


def test_a_clean_version_has_no_texts_to_look_for(good_measured):
    found = judged(good_measured, wanted(plan=emptied(plan()), texts=()))
    assert found["qc-text-seen"].outcome is not Outcome.FAIL
    assert found["qc-contrast"].outcome is Outcome.PASS


# --- the list itself -------------------------------------------------------------------------------------------------


def test_ids_are_kebab_case_unique_and_apart_from_the_storyboards():
    ids = [one.id for one in QC_CHECKS]
    assert len(set(ids)) == len(ids)
    assert all(id_.startswith("qc-") and id_ == id_.lower() for id_ in ids)
    assert not set(ids) & set(BY_ID)
    assert sum(len(checks) for _, checks in SUBJECTS) == len(ids)
    assert all(one.why and one.limit and one.source and one.title for one in QC_CHECKS)
    assert len(BEYOND) >= 3


@pytest.mark.slow
def test_findings_say_what_is_allowed_and_what_to_do(tmp_path):
    path = write(tmp_path / "a.mp4", pictures=with_frames(white_flashes), heard=at_loudness(sound(), -13), frames=151)
    findings = findings_of(tuple(verdicts(path, wanted(texts=texts(contrast=2.0))).values()))
    assert len(findings) >= 4
    for one in findings:
        assert " — " in one.what, one.what
        assert any(c.isdigit() for c in one.what), one.what
        assert one.remedy
    assert [one.severity.rank for one in findings] == sorted(one.severity.rank for one in findings)


def hardly_moving(k, made):
    """While a clip should run, a person breathes: a small patch goes up and down by a code value."""
    if not 110 <= k < 140:
        return made
    still = spoiled.picture(110).copy()
    patch = still[30:40, 50:60].astype(int) + (1 if k % 2 else 0)
    still[30:40, 50:60] = patch.clip(0, 255)
    return still


@pytest.mark.slow
def test_somebody_who_hardly_moves_is_a_note_and_no_error(tmp_path):
    found = verdicts(write(tmp_path / "a.mp4", pictures=with_frames(hardly_moving)))
    assert found["qc-frozen"].outcome is Outcome.PASS, told(found)
    (flag,) = found["qc-frozen"].flags
    assert flag.finding.severity is Severity.NOTE
    assert "hardly moves" in flag.finding.what
