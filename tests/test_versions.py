"""Versions: shared where they are equal, judged each, consent for each delivery by itself, findings told once."""

from __future__ import annotations

import datetime
import json
from fractions import Fraction
from pathlib import Path

import pytest

from segmentkit.errors import NotFit
from segmentkit.findings import Finding, Place, Severity
from segmentkit.geometry import Point
from segmentkit.pipeline import check, render
from segmentkit.plan.model import ClipPicture
from segmentkit.storyboard.load import load
from segmentkit.storyboard.profiles import delivery
from segmentkit.versions import told, versions_wanted
from tests.clips import make_clip, steady

DEMO = Path(__file__).parents[1] / "demo_project" / "storyboard.yaml"
TODAY = datetime.date(2026, 11, 25)
BOARD = """
segmentkit: 1
segment: {title: Coded frames, slot: 00:00:04:00, rate: 25, size: 320x180SPONSOR}
people:
  maren: {shown: Maren, adult: ADULT, release: {for: [FOR], by: BY}}
clips:
  coded: {file: coded.mp4, person: maren, positions: {here: f40}}
beats:
  - beat: first
    show:
      - run: {clip: coded, from: f10, to: f30, speed: 1/2}
      - freeze: {clip: coded, at: here, hold: 0.2s..9s}
CARDS
  - beat: second
    show:
      - run: {clip: coded, from: f5, to: f60, speed: 1}
cuts:
  short: {slot: SLOT, beats: [second, {beat: own, show: [{freeze: {clip: coded, at: here, hold: 1s..70s}}]}]}
deliver: [DELIVER]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("versions")
    make_clip(place / "coded.mp4", steady(60, 2))
    return place


def board(folder: Path, deliver: str, **values: str) -> Path:
    wanted = {
        "FOR": "web, broadcast, short", "SLOT": "30s", "SPONSOR": "", "CARDS": "", "ADULT": "yes", "BY": "Maren",
        **values, "DELIVER": deliver,
    }  # fmt: skip
    text = BOARD
    for name, value in wanted.items():
        text = text.replace(name, value)
    path = folder / "board.yaml"
    path.write_text(text.replace("\n\n", "\n"))
    return path


def ids(path: Path, deliver: tuple[str, ...] = (), **how: object) -> dict[str, list[str]]:
    """Findings by id, each with where it is."""
    found: dict[str, list[str]] = {}
    for finding in check(path, today=TODAY, deliver=deliver or None, **how).findings:  # type: ignore[arg-type]
        found.setdefault(finding.id, []).append(finding.where)
    return found


class TestSharing:
    @pytest.mark.slow
    def test_equal_versions_share_one_plan(self, folder: Path):
        checked = check(board(folder, "web, broadcast, clean, short, broadcast-50, broadcast-25i"), today=TODAY)
        assert [[to.name for to in version.deliveries] for version in checked.versions] == [
            ["web", "broadcast", "clean"], ["short"], ["broadcast-50"], ["broadcast-25i"],
        ]  # fmt: skip
        assert [version.whole for version in checked.versions] == [True, False, False, False]
        assert checked.plan is checked.versions[0].plan

    @pytest.mark.slow
    def test_the_slot_is_the_nearest_frame_at_any_rate(self, folder: Path):
        path = board(folder, "web, broadcast-50, broadcast-2997, broadcast-5994, broadcast-25i, broadcast-5994i")
        plans = [version.plan for version in check(path, today=TODAY).versions]
        # 4 s: 100 at 25, 200 at 50, 119.88 at 29.97, 239.76 at 59.94; interlaced as two fields for each frame.
        assert [plan.slot for plan in plans] == [100, 200, 120, 240, 200, 240]
        for plan in plans:
            assert plan.frames == plan.slot
            assert abs(plan.frames / plan.rate.fps - 4) <= 1 / plan.rate.fps / 2 + Fraction(1, 1000)

    def test_every_beat_starts_at_its_moment_at_any_rate(self, folder: Path):
        path = board(folder, "web, broadcast-5994")
        one, other = (version.plan for version in check(path, today=TODAY).versions)
        for first, second in zip(one.beats, other.beats, strict=True):
            off = first.span.start / one.rate.fps - second.span.start / other.rate.fps
            assert abs(off) <= 1 / one.rate.fps

    def test_an_interlaced_version_has_an_even_number_of_fields(self, folder: Path):
        loaded = load(board(folder, "broadcast-5994i"))
        (wanted,) = versions_wanted(loaded, [delivery("broadcast-5994i")])
        assert wanted.loaded.board.segment.rate.fps == Fraction(60000, 1001)
        (version,) = check(board(folder, "broadcast-5994i"), today=TODAY).versions
        assert version.plan.slot % 2 == 0


class TestFindings:
    def test_they_name_the_version_that_has_them(self, folder: Path):
        found = ids(board(folder, "web, short", SLOT="80s"))
        assert found["slot-under"] == ["short: segment, slot"]
        assert found["short-length"] == ["short: segment, slot"]

    def test_a_short_of_twenty_to_sixty_seconds_is_right(self, folder: Path):
        assert "short-length" not in ids(board(folder, "web, short", SLOT="20s"))
        assert "short-length" in ids(board(folder, "web, short", SLOT="19.96s"))
        assert "short-length" not in ids(board(folder, "web, short", SLOT="60s"))
        assert "short-length" in ids(board(folder, "web, short", SLOT="60.04s"))

    def test_a_short_says_at_once_what_it_is_about(self, folder: Path):
        assert ids(board(folder, "web, short"))["hook-late"] == ["short: beat second"]
        assert "hook-late" not in ids(board(folder, "web"))

    def test_what_all_versions_have_is_told_once(self, folder: Path):
        path = board(folder, "web, square, broadcast-50", ADULT="", SPONSOR=", sponsor: Fen Golf Cart Repair")
        found = ids(path)
        assert len(found["age-not-stated"]) == 1
        assert found["sponsor-without-disclosure"] == ["segment, sponsor"]

    def test_a_short_keeps_the_disclosure(self, folder: Path):
        """The whole has the card, and the cut leaves out the beat with it."""
        cards = "    cards: [{disclosure: {text: Paid partnership with Fen Golf Cart Repair, at: 0s}}]"
        sponsor = ", sponsor: Fen Golf Cart Repair"
        found = ids(board(folder, "web, short", SPONSOR=sponsor, CARDS=cards))
        assert found["sponsor-without-disclosure"] == ["short: segment, sponsor"]
        assert "sponsor-without-disclosure" not in ids(board(folder, "web", SPONSOR=sponsor, CARDS=cards))

    def test_a_number_that_only_the_rate_changes_is_told_once(self):
        place = Place(file="a.yaml", line=3, column=1)

        def finding(what: str, where: str = "beat one") -> Finding:
            return Finding(id="some-id", severity=Severity.NOTE, where=where, what=what, remedy="mend it", place=place)

        class Plan:
            size = (1920, 1080)

        class Version:
            def __init__(self, name: str, *findings: Finding, whole: bool = False) -> None:
                self.deliveries = (delivery(name),)
                self.findings, self.plan, self.whole = findings, Plan(), whole

        versions = [
            Version("web", finding("held for 2 s"), whole=True),
            Version("broadcast-2997", finding("held for 2.002 s"), finding("odd", "beat two")),
        ]
        assert [(one.where, one.what) for one in told(versions, ())] == [  # type: ignore[arg-type]
            ("beat one", "held for 2 s"), ("broadcast-2997: beat two", "odd"),
        ]  # fmt: skip


class TestConsent:
    def test_a_release_is_judged_for_each_delivery(self, folder: Path):
        path = board(folder, "web, broadcast, short", FOR="web")
        checked = check(path, today=TODAY)
        assert [one.delivery.name for one in checked.refused] == ["broadcast", "short"]
        assert [[to.name for to in version.deliveries] for version in checked.versions] == [["web"]]
        assert {finding.id for finding in checked.findings} >= {"release-scope"}
        assert not checked.fits
        assert checked.version(delivery("broadcast")) is None

    def test_nothing_is_opened_where_all_are_refused(self, folder: Path):
        path = board(folder, "web, broadcast", FOR="marketing")
        path.write_text(path.read_text().replace("coded.mp4", "never-there.mp4"))
        with pytest.raises(NotFit, match="release-scope"):
            check(path, today=TODAY)

    @pytest.mark.slow
    def test_a_file_is_made_of_what_is_allowed(self, folder: Path, tmp_path: Path):
        path = board(folder, "web, broadcast", FOR="web")
        with pytest.raises(NotFit, match="release-scope"):
            render(path, tmp_path / "broadcast.mp4", "broadcast", today=TODAY)
        assert list(tmp_path.iterdir()) == []
        assert render(path, tmp_path / "web.mp4", "web", today=TODAY).movie.frames == 100

    def test_a_teaser_needs_a_release_for_marketing_and_no_minor(self, folder: Path):
        text = board(folder, "web, teaser", FOR="web, short").read_text().replace("  short: {slot", "  teaser: {slot")
        path = folder / "teaser.yaml"
        path.write_text(text)
        assert "release-scope" in ids(path)
        path.write_text(text.replace("for: [web, short]", "for: [web, marketing]"))
        assert "release-scope" not in ids(path)
        minor = text.replace("for: [web, short]", "for: [web, marketing]").replace(
            "adult: yes", "adult: no, guardian: Torben"
        )
        path.write_text(minor.replace("by: Maren", "by: Torben"))
        assert "minor-marketing" in ids(path)
        assert "minor-marketing" not in ids(path, ("web",))


@pytest.mark.slow
def test_each_version_has_its_length_to_the_frame(folder: Path, tmp_path: Path):
    """Clean as long as the whole; an upright cut in its own slot."""
    path = board(folder, "web, clean, short", SLOT="20s")
    # Coded pictures are no programme: quality control would rightly refuse them.
    made = {
        name: render(path, tmp_path / f"{name}.mp4", name, final=False, today=TODAY).movie
        for name in ("web", "clean", "short")
    }
    assert {name: movie.frames for name, movie in made.items()} == {"web": 100, "clean": 100, "short": 500}
    assert str(made["short"].size) == "1080x1920"
    assert made["short"].frames / made["short"].rate <= 60


@pytest.mark.slow
class TestDemo:
    def test_all_that_it_delivers_is_without_findings(self):
        checked = check(DEMO, final=True, today=TODAY)
        assert checked.findings == ()
        assert [(version.plan.frames, str(version.plan.size)) for version in checked.versions] == [
            (4500, "1920x1080"), (1000, "1080x1920"),
        ]  # fmt: skip

    def test_its_teaser_and_the_moving_picture_for_mail_as_well(self):
        checked = check(DEMO, final=True, today=TODAY, deliver=["teaser", "mail"])
        assert checked.findings == ()
        assert [version.plan.frames for version in checked.versions] == [375, 150]

    @pytest.mark.parametrize(("clip", "film"), [("maren_dtl", "viewer-dtl"), ("ines_dtl", "model-dtl")])
    def test_player_and_club_are_inside_the_short_wherever_it_shows_them(self, clip: str, film: str):
        """By what the film's own model says of its joints and its club, frame by frame; the checks are not asked."""
        truth = json.loads((DEMO.parent / "clips" / f"{film}.truth.json").read_text())
        wide, high = truth["width"], truth["height"]
        (version,) = check(DEMO, final=True, today=TODAY, deliver=["short"]).versions
        seen: set[int] = set()
        for shot in version.plan.shots:
            for index, pane in enumerate(shot.panes):
                if not isinstance(pane.picture, ClipPicture) or pane.picture.clip != clip:
                    continue
                for offset, source in enumerate(pane.picture.frames):
                    if source in seen:
                        continue
                    seen.add(source)
                    placed, flat = shot.placement(index, shot.span.start + offset), truth["frames"][source]
                    for x, y in zip(flat[::2], flat[1::2], strict=True):
                        assert placed.window.contains(placed.to_canvas(Point(x / wide, y / high))), (
                            shot.id,
                            source,
                            x,
                            y,
                        )
        assert {truth["events"][name] for name in ("top", "impact")} <= seen
