"""Cuts and versions: what they hold, that places still point into the text, and each fault at its spot."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from segmentkit.delivery import Delivery
from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Point, Size
from segmentkit.storyboard.cuts import version_key, version_of
from segmentkit.storyboard.load import LoadedStoryboard, loads
from segmentkit.timebase import Rate, Seconds, Timecode
from tests.makers import FILE, lesson
from tests.storyboard.tables import as_rows

CUT = """\
cuts:
  short:
    slot: 0:20
    title: One line
    beats:
      - beat: hook
        say: Look at one line.
        show:
          - freeze: {clip: marta_dtl, at: impact, hold: 4s}
      - impact
      - compare
    framing:
      marta_dtl: {focus: [0.4, 0.5], zoom: 0.7}
"""
PRESET = """\
segmentkit: 1
segment: {title: Hips, slot: 0:30}
clips:
  swing:
    file: a.mp4
    view: down-the-line
    positions: {address: 0.4s, impact: 1s}
    points:
      address: {belt: [0.46, 0.52], heel: [0.43, 0.86], spine_high: [0.5, 0.4], hip_back: [0.4, 0.55]}
      impact: {belt: [0.46, 0.52], spine_high: [0.5, 0.4], hip_back: AT}
beats: [{beat: one, show: [{freeze: {clip: swing, at: address, hold: 4s}}]}]
cuts:
  short:
    slot: 0:10
    beats:
      - {fault: hips_toward_ball, beat: own, show: [{freeze: {clip: swing, at: impact, hold: 4s..10s}}]}
"""
NTSC = Rate(Fraction(30000, 1001))


def text_with(cut: str = CUT, *changes: tuple[str, str]) -> str:
    return lesson(*changes) + cut


def board_with(cut: str = CUT, *changes: tuple[str, str]) -> LoadedStoryboard:
    return loads(text_with(cut, *changes), FILE)


def to(cut: str | None = "short", **how: object) -> Delivery:
    return replace(Delivery(name="any", scope="web", loudness=-16.0, true_peak=-1.0), cut=cut, **how)  # type: ignore[arg-type]


def faults(cut: str, *changes: tuple[str, str]) -> list[str]:
    with pytest.raises(StoryboardUnreadable) as caught:
        loads(text_with(cut, *changes), FILE)
    return as_rows(caught.value.faults, FILE)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


class TestVersions:
    def test_the_whole_is_the_storyboard_itself(self):
        loaded = board_with()
        assert version_of(loaded, to(None)) is loaded
        assert version_of(loaded, to(None, clean=True)) is loaded
        assert version_of(loaded, to(None, size=Size(1920, 1080), rate=Rate(Fraction(25)))) is loaded

    def test_a_cut_has_its_beats_slot_and_title(self):
        board = version_of(board_with(), to()).board
        assert [beat.beat for beat in board.beats] == ["hook", "impact", "compare"]
        assert (board.segment.title, board.segment.slot) == ("One line", Seconds(Fraction(20)))
        assert board.sheet is None

    def test_deliveries_with_one_key_share_a_version(self):
        board = board_with().board
        assert version_key(board, to()) == version_key(board, to(loudness=-23.0, burned=True))
        others = [to(None), to(size=Size(1080, 1920)), to(rate=NTSC)]
        assert len({version_key(board, one) for one in [to(), *others]}) == 4

    @pytest.mark.parametrize(
        ("path", "part"),
        [
            (("segment", "slot"), "0:20"),
            (("segment", "title"), "One line"),
            (("segment", "rate"), "25"),
            (("beats", 0, "say"), "Look at one line."),
            (("beats", 0, "show", 0, "freeze", "hold"), "4s}\n      - impact"),
            (("beats", 1, "strokes", "hip_gap"), "hip_gap: {double_arrow"),
            (("beats", 2, "keep"), "keep: [line]"),
            (("people", "marta"), "marta: {shown"),
        ],
    )
    def test_places_point_at_the_line_of_the_text(self, path: tuple[str | int, ...], part: str):
        assert version_of(board_with(), to()).place(*path).line == line_of(text_with(), part)

    def test_spans_are_those_of_the_text(self):
        version = version_of(board_with(), to())
        start, end = version.span("beats", 0, "show", 0, "freeze", "hold")
        assert version.text[start:end] == "4s"

    def test_a_profile_s_size_comes_before_a_cut_s_and_that_before_the_segment_s(self):
        loaded = board_with(CUT.replace("    slot: 0:20\n", "    slot: 0:20\n    size: 720x1280\n"))
        assert version_of(loaded, to()).board.segment.size == Size(720, 1280)
        assert version_of(loaded, to(size=Size(1080, 1920))).board.segment.size == Size(1080, 1920)
        assert version_of(loaded, to(None, size=Size(640, 360))).board.segment.size == Size(640, 360)

    def test_labels_are_read_at_the_storyboard_s_own_rate(self):
        loaded = board_with(
            CUT, ("slot: 3:00", "slot: 00:03:00:12"), ("hold: 12s", "hold: 12s"), ("lead: 0.4s", "lead: 00:00:00:10")
        )
        version = version_of(loaded, to(None, rate=NTSC)).board
        assert loaded.board.segment.slot == Timecode(0, 3, 0, 12, drop=False)
        # 12 frames of 25 a second are 0.48 s, and ten are 0.4 s, whatever the rate of the file.
        assert version.segment.slot == Seconds(180 + Fraction(12, 25))
        assert version.voice.lead == Seconds(Fraction(10, 25))
        assert version.segment.rate == NTSC

    def test_labels_of_a_clip_s_moments_count_its_own_frames(self):
        loaded = board_with(CUT, ("address: 0.42s", "address: 00:00:00:10"))
        version = version_of(loaded, to(None, rate=NTSC)).board
        assert version.clips["marta_dtl"].positions["address"] == Timecode(0, 0, 0, 10, drop=False)

    def test_a_zoom_meant_for_a_wide_picture_does_not_hold_in_a_narrow_one(self):
        loaded = board_with(CUT, ("    view: down-the-line\n", "    view: down-the-line\n    zoom: 1.2\n"))
        upright, square = Size(1080, 1920), Size(1080, 1080)
        framed = version_of(loaded, to(size=upright)).board.clips["marta_dtl"]
        assert (framed.zoom, framed.focus) == (0.7, Point(0.4, 0.5))
        assert version_of(loaded, to(None, size=square)).board.clips["marta_dtl"].zoom is None
        assert version_of(loaded, to(None, size=Size(640, 360))).board.clips["marta_dtl"].zoom == 1.2

    def test_nor_does_a_focus_which_gives_way_to_the_player(self):
        loaded = board_with(CUT, ("    view: down-the-line\n", "    view: down-the-line\n    focus: [0.6, 0.5]\n"))
        assert version_of(loaded, to(None, size=Size(1080, 1350))).board.clips["marta_dtl"].focus is None
        assert version_of(loaded, to(None, size=Size(640, 360))).board.clips["marta_dtl"].focus == Point(0.6, 0.5)

    def test_nor_does_the_zoom_of_a_comparison(self):
        loaded = board_with(CUT, ("match: [ground], hold", "match: [ground], zoom: 1.3, hold"))
        zooms = [
            version_of(loaded, to(None, size=size)).board.beats[2].show[0].split.zoom
            for size in (Size(1080, 1080), Size(640, 360))
        ]
        assert zooms == [None, 1.3]

    def test_music_stays_where_its_beats_are_in_the_cut(self):
        (music,) = version_of(board_with(), to()).board.music
        assert (music.from_, music.until) == ("impact", "compare")
        own = CUT + "    music: []\n"
        assert version_of(board_with(own), to()).board.music == ()

    def test_words_in_braces_are_left_to_the_plan(self):
        assert version_of(board_with(CUT + "    words: spare\n"), to()).pared
        assert not version_of(board_with(), to()).pared

    def test_a_fault_preset_draws_its_lines_in_a_beat_of_a_cut(self):
        loaded = loads(PRESET.replace("AT", "[0.4, 0.5]"))
        assert {"hip_line", "hip_gap"} <= set(version_of(loaded, to()).board.beats[0].strokes)
        assert loaded.board.beats[0].strokes == {}

    def test_what_a_preset_lacks_is_said_at_the_cut_s_own_line(self):
        with pytest.raises(StoryboardUnreadable) as caught:
            loads(PRESET.replace(", hip_back: AT", ""), FILE)
        (row,) = as_rows(caught.value.faults, FILE)
        assert row.startswith("16:17: cut short, beat own, fault — `hips_toward_ball` needs 1 point")

    def test_the_good_take_of_a_cut_s_own_beat_may_be_marked(self):
        marked = board_with(CUT, ("good: {impact: t02}", "good: {impact: t02, hook: t03}"))
        assert version_of(marked, to()).board.voice.good == {"hook": "t03", "impact": "t02"}


class TestFaults:
    def test_beats_that_are_not_there(self):
        assert faults(CUT.replace("- impact\n", "- impct\n")) == [
            "76:9: cut short, beat impct — there is no beat `impct` — did you mean `impact`? | impct"
        ]

    def test_a_beat_twice(self):
        (row,) = faults(CUT.replace("- compare\n", "- compare\n      - impact\n"))
        assert row.endswith("cut short, beat impact — `impact` is listed twice — keep one | impact")

    def test_a_beat_of_its_own_needs_a_name_of_its_own(self):
        (row,) = faults(CUT.replace("beat: hook", "beat: impact"))
        assert "the segment has a beat `impact` already — take another name, or write `- impact` alone" in row
        second = CUT.split("cuts:\n")[1].replace("short:", "other:")
        (row,) = faults(CUT + second)
        assert "cut short has a beat `hook` already" in row

    def test_a_kept_stroke_that_the_cut_does_not_draw(self):
        (row,) = faults(CUT.replace("      - impact\n", ""))
        assert row == (
            "76:9: cut short, beat compare — keeps `line`, and no beat before it in this cut draws it — add the beat "
            "that does, or write a beat of the cut's own | compare"
        )

    def test_faults_of_its_own_beats_are_told_as_any(self):
        rows = faults(
            CUT.replace("Look at one line.", "Look at [none] one line.").replace(
                "at: impact, hold: 4s", "at: impat, hold: 4s"
            )
        )
        assert [row.split(" — ")[0] for row in rows] == [
            "73:22: cut short, beat hook, say",
            "75:43: cut short, beat hook, shot 1, freeze, at",
        ]

    def test_model_faults_in_its_own_beats_keep_their_spots(self):
        rows = faults(CUT.replace("hold: 4s}", "holt: 4s}"))
        assert [row.split(" — ")[1] for row in rows] == ["`holt` is not a key here"]
        assert "cut short, beat hook, shot 1, freeze" in rows[0]

    def test_music_that_hangs_on_a_beat_the_cut_lacks(self):
        rows = faults(CUT + "    music: [{file: music/bed.wav, from: drill}]\n")
        assert [row.split(" — ")[1] for row in rows] == ["there is no beat `drill`"]

    def test_a_clip_that_is_not_there(self):
        (row,) = faults(CUT.replace("marta_dtl: {focus", "marta_dlt: {focus"))
        assert "there is no clip `marta_dlt` — did you mean `marta_dtl`?" in row

    def test_a_slot_that_does_not_exist(self):
        assert "frame 25" in faults(CUT.replace("slot: 0:20", "slot: 00:00:20:25"))[0]
        assert "a slot of 0 s" in faults(CUT.replace("slot: 0:20", "slot: 0s"))[0]

    def test_a_delivery_whose_cut_is_not_written_says_how_to_write_it(self):
        (row,) = faults("", ("deliver: [broadcast, web]", "deliver: [web, short]"))
        assert row == (
            "66:16: deliver 2 — `short` delivers a cut called `short`, and `cuts` has none of that name — write one: "
            "cuts: {short: {slot: 0:40, beats: [beats by name, or whole ones]}} | short"
        )
        assert board_with(CUT, ("deliver: [broadcast, web]", "deliver: [web, short]")).board.deliver == ("web", "short")

    def test_a_version_without_its_cut_cannot_be_made(self):
        with pytest.raises(StoryboardUnreadable, match="`any` delivers a cut called `nothing`"):
            version_of(board_with(), to("nothing"))


class TestProfilePaths:
    PROFILE = "what: Ours\nscope: web\nloudness: -16\ntrue_peak: -1\n"

    def rows(self, name: str, folder: Path) -> list[str]:
        with pytest.raises(StoryboardUnreadable) as caught:
            loads(lesson(("deliver: [broadcast, web]", f"deliver: [web, {name}]")), FILE, folder)
        return [row.split(" — ", 1)[1] for row in as_rows(caught.value.faults, FILE)]

    def test_a_profile_of_the_house_s_own_is_found_from_the_storyboard(self, tmp_path: Path):
        (tmp_path / "house.yaml").write_text(self.PROFILE)
        text = lesson(("deliver: [broadcast, web]", "deliver: [web, house.yaml]"))
        assert loads(text, FILE, tmp_path).board.deliver == ("web", "house.yaml")

    def test_no_path_leads_out(self, tmp_path: Path):
        assert self.rows("../house.yaml", tmp_path)[0].startswith("the path climbs out of its folder with `..`")
        assert self.rows("/etc/house.yaml", tmp_path)[0].startswith("the path starts outside")

    def test_a_file_that_is_not_there_and_one_named_twice(self, tmp_path: Path):
        assert self.rows("house.yaml", tmp_path)[0].startswith("there is no profile file house.yaml")
        (tmp_path / "web.yaml").write_text(self.PROFILE)
        assert self.rows("web.yaml", tmp_path)[0].startswith("`web` is listed twice — keep one")

    def test_its_own_faults_are_told_in_its_own_file(self, tmp_path: Path):
        (tmp_path / "house.yaml").write_text(self.PROFILE.replace("scope: web", "scope: wep"))
        with pytest.raises(StoryboardUnreadable, match=r"house.yaml:2:8: scope — 'wep' is not known here"):
            loads(lesson(("deliver: [broadcast, web]", "deliver: [web, house.yaml]")), FILE, tmp_path)

    def test_a_cut_that_it_wants_must_be_there(self, tmp_path: Path):
        (tmp_path / "house.yaml").write_text(self.PROFILE + "cut: promo\n")
        assert self.rows("house.yaml", tmp_path)[0].startswith("`house` delivers a cut called `promo`")
