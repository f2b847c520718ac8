"""The page of quality control, its data, and the door to a delivery."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from segmentkit.checks.qc import QC_CHECKS, judge, overall
from segmentkit.checks.qc_check import Outcome
from segmentkit.deliver.qc_data import Override, qc_data
from segmentkit.deliver.qc_page import frames_to_show, qc_page
from segmentkit.deliver.qc_wave import strip, wave
from segmentkit.deliver.release import failed_name, passed_before, release
from segmentkit.errors import OutputFailed
from segmentkit.media.screen_stills import pictures_at
from segmentkit.timebase import Span
from tests import spoiled
from tests.clips import make_clip, read_number, steady
from tests.spoiled import wanted, write

TITLE = "Keep your room & <swing>"


def white_flashes(k):
    made = spoiled.picture(k)
    return np.full_like(made, 245) if 54 <= k < 90 and (k - 54) // 3 % 2 == 0 else made


def odd_frame(k):
    return 255 - spoiled.picture(120) if k == 70 else spoiled.picture(k)


class Examined:
    def __init__(self, path, asked=None):
        self.path = path
        self.measured = spoiled.measured(path)
        self.verdicts = judge(self.measured, asked or wanted())

    def pictures(self, frames):
        return pictures_at(self.path, frames, self.measured.coded.rate, 160)


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    return Examined(write(tmp_path_factory.mktemp("good") / "good.mp4"))


@pytest.fixture(scope="module")
def bad(tmp_path_factory):
    return Examined(write(tmp_path_factory.mktemp("bad") / "bad.mp4", pictures=white_flashes, frames=151))


def page_of(examined, **how):
    shown = examined.pictures(frames_to_show(examined.verdicts, examined.measured.pictures.frames))
    return qc_page(TITLE, examined.measured, examined.verdicts, shown, **how)


class Balanced(HTMLParser):
    """Fails on a tag that is closed out of turn."""

    _EMPTY = frozenset({"meta", "img", "br", "link"})

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attrs):  # noqa: ARG002  the parser's signature
        if tag not in self._EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, tag


@pytest.mark.slow
def test_the_page_needs_no_network_and_is_well_formed(bad):
    text = page_of(bad)
    reader = Balanced()
    reader.feed(re.sub(r"<(rect|polygon|line|image)[^>]*/>", "", text))
    assert not reader.open
    assert not re.findall(r"""(?:src|href)=["'](?!data:|#)""", text)
    assert "url(http" not in text
    assert "@import" not in text
    assert "Keep your room &amp; &lt;swing&gt;" in text


def test_the_page_says_every_check_its_limit_and_its_source(bad):
    text = page_of(bad)
    from html import escape

    for check in QC_CHECKS:
        for part in (check.title, check.limit, check.source):
            assert escape(part) in text, part
    assert "fails — not to be handed over" in text
    assert "What could not be checked" in text
    assert "nobody said whether captions belong to this file" in text


def test_each_flag_has_its_picture_and_its_sound(bad):
    text = page_of(bad)
    flags = [flag for one in bad.verdicts for flag in one.flags]
    with_time = [flag for flag in flags if flag.span is not None]
    assert with_time
    shown = [flag for one in bad.verdicts for flag in one.flags[:3] if flag.span is not None]
    assert text.count("data:image/jpeg") >= len(shown)
    assert text.count('class="wave"') == len(shown)
    assert all(flag.time in text for flag in with_time)


def test_a_good_file_has_a_page_without_flags(good):
    text = page_of(good)
    assert "Nothing to put right." in text
    assert ">passes, 1 not checked<" in text


@pytest.mark.slow
def test_single_frames_are_shown_between_their_neighbours(tmp_path):
    examined = Examined(write(tmp_path / "a.mp4", pictures=odd_frame))
    assert set(frames_to_show(examined.verdicts, 150)) >= {69, 70, 71}


@pytest.mark.slow
def test_pictures_are_those_of_the_frames_asked_for(tmp_path):
    path = make_clip(tmp_path / "numbers.mp4", steady(25, 8))
    rate = spoiled.RATE
    asked = (0, 1, 30, 31, 32, 140, 199)
    found = pictures_at(path, asked, rate, 320)
    assert {frame: read_number(rgb) for frame, rgb in found.items()} == {frame: frame for frame in asked}
    assert pictures_at(path, (500,), rate) == {}


def test_drawings_of_sound_stay_inside(bad):
    flags = [flag for one in bad.verdicts for flag in one.flags]
    for text, wide in ((strip(bad.measured, flags), 1200), (wave(bad.measured, Span(0, 2)), 352)):
        points = re.findall(r'points="([^"]+)"', text)
        places = [float(pair.split(",")[0]) for one in points for pair in one.split()]
        assert places
        assert min(places) >= -7
        assert max(places) <= wide + 7


def test_the_data_can_be_read_by_machines_and_says_the_same(bad):
    data = json.loads(json.dumps(qc_data(bad.measured, bad.verdicts)))
    assert data["verdict"] == "fail"
    assert [one["id"] for one in data["checks"]] == [check.id for check in QC_CHECKS]
    assert data["measured"]["frames"] == 151
    assert data["sha256"] == bad.measured.content
    flags = next(one["flags"] for one in data["checks"] if one["id"] == "qc-flashes")
    assert flags[0]["first_frame"] == bad.verdicts[[c.id for c in QC_CHECKS].index("qc-flashes")].flags[0].span.start
    assert data["not_checked"] == [{"id": "qc-captions", "because": "nobody said whether captions belong to this file"}]


# --- the door --------------------------------------------------------------------------------------------------------

SIGNED = Override(by="Ada Linde", reason="The flashes were agreed with the house.", on="2026-11-25")


def let_out(examined, folder, override=None):
    partial = folder / ".lesson.mp4.partial-x.mp4"
    partial.write_bytes(examined.path.read_bytes())
    final = folder / "lesson.mp4"
    pictures = examined.pictures
    return release(partial, final, TITLE, examined.measured, examined.verdicts, pictures, override=override)


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_file_that_passes_gets_its_name(good, tmp_path):
    out = let_out(good, tmp_path)
    assert out.passed
    assert names(tmp_path) == ["lesson.mp4", "lesson.qc.html", "lesson.qc.json"]
    assert out.path.read_bytes() == good.path.read_bytes()
    assert out.entry["verdict"] == "pass"
    assert out.entry["override"] is None
    assert out.entry["not_checked"] == ["qc-captions"]


def test_a_file_that_fails_does_not_get_its_name(bad, tmp_path):
    assert overall(bad.verdicts) is Outcome.FAIL
    out = let_out(bad, tmp_path)
    assert not out.passed
    assert names(tmp_path) == ["lesson.failed-qc.mp4", "lesson.failed-qc.qc.html", "lesson.failed-qc.qc.json"]
    assert out.path == failed_name(tmp_path / "lesson.mp4")
    assert set(out.entry["failed"]) == {"qc-length", "qc-flashes"}


def test_a_person_may_let_it_pass_by_name_and_with_a_reason(bad, tmp_path):
    out = let_out(bad, tmp_path, SIGNED)
    assert out.passed
    assert names(tmp_path) == ["lesson.mp4", "lesson.qc.html", "lesson.qc.json"]
    recorded = {"by": SIGNED.by, "reason": SIGNED.reason, "on": SIGNED.on}
    assert out.entry["override"] == recorded
    assert out.entry["verdict"] == "fail"
    data = json.loads(out.data.read_text("utf-8"))
    assert data["override"] == recorded
    assert data["verdict"] == "fail"
    assert "Let pass by Ada Linde" in out.page.read_text("utf-8")


@pytest.mark.parametrize(("by", "reason"), [("", "because"), ("Ada Linde", "  ")])
def test_nobody_and_no_reason_let_nothing_pass(bad, tmp_path, by, reason):
    with pytest.raises(OutputFailed, match="an override without"):
        let_out(bad, tmp_path, Override(by=by, reason=reason, on="2026-11-25"))
    assert "lesson.mp4" not in names(tmp_path)


def test_an_override_that_was_not_needed_is_not_recorded(good, tmp_path):
    out = let_out(good, tmp_path, SIGNED)
    assert out.entry["override"] is None
    assert "Let pass" not in out.page.read_text("utf-8")


def test_a_file_that_passes_clears_away_the_failed_one(good, bad, tmp_path):
    let_out(bad, tmp_path)
    let_out(good, tmp_path)
    assert names(tmp_path) == ["lesson.mp4", "lesson.qc.html", "lesson.qc.json"]


def test_a_failed_one_leaves_the_older_delivery_alone(good, bad, tmp_path):
    let_out(good, tmp_path)
    let_out(bad, tmp_path)
    assert (tmp_path / "lesson.mp4").read_bytes() == good.path.read_bytes()
    assert "lesson.failed-qc.mp4" in names(tmp_path)


def test_what_was_judged_need_not_be_judged_again(good, bad, tmp_path):
    final = tmp_path / "lesson.mp4"
    assert not passed_before(final, good.measured.content)
    let_out(good, tmp_path)
    assert passed_before(final, good.measured.content)
    assert not passed_before(final, bad.measured.content)
    final.write_bytes(b"something else")
    assert not passed_before(final, good.measured.content)
    (tmp_path / "lesson.qc.json").write_text("[]")
    assert not passed_before(final, good.measured.content)


def test_what_fails_has_not_passed_unless_somebody_said_so(bad, tmp_path):
    let_out(bad, tmp_path)
    assert not passed_before(tmp_path / "lesson.mp4", bad.measured.content)
    let_out(bad, tmp_path, SIGNED)
    assert passed_before(tmp_path / "lesson.mp4", bad.measured.content)
