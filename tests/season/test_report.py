"""The season in figures: right numbers, nobody named, few people folded, readable in light and dark."""

from __future__ import annotations

import csv
import dataclasses
import datetime
import io
import json
import re
import statistics
import wave
from fractions import Fraction
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.season.report import ELSEWHERE, NOT_ASKED, NOT_JUDGED, NOT_WRITTEN, Lengths, figures
from segmentkit.season.report_data import as_data, csv_text, people_text, write_people
from segmentkit.season.report_page import DARK, LIGHT, season_page, seconds_text
from segmentkit.season.report_plots import bars, spread
from segmentkit.storyboard.season import load_season
from tests.season.report_case import FIRST, plant
from tests.season.withdraw_case import put

TODAY = datetime.date(2026, 7, 20)


@pytest.fixture
def season(tmp_path):
    return load_season(plant(tmp_path))


@pytest.fixture
def counted(season):
    return figures(season, TODAY)


class TestCounts:
    def test_submissions_by_what_became_of_them(self, counted):
        # Planted: 20 came; 1 withdrawn, 1 not judged, 3 to film again, 2 not used, of the rest each fourth limited.
        assert (counted.came, counted.used) == (20, 10)
        assert dict(counted.verdicts) == {"use": 9, "use, limited": 4, "reshoot": 3, "not used": 3, NOT_JUDGED: 1}
        assert sum(dict(counted.verdicts).values()) == 20
        assert dict(counted.reasons) == {"too dark": 3, "cut off": 1, "same file": 1, "withdrawn": 1}

    def test_what_is_taught_and_who_demonstrates(self, counted):
        assert dict(counted.faults) == {"sway": 4, "hips toward ball": 2, "over the top": 2, "bent lead arm": 2}
        assert dict(counted.models) == {"demonstrator A": 4, "demonstrator B": 4, "demonstrator C": 2}

    def test_people_by_what_the_record_says_and_no_more(self, counted):
        assert dict(counted.hands) == {"right": 7, "left": 1, NOT_ASKED: 2}
        assert dict(counted.sexes) == {"woman": 3, "man": 2, NOT_ASKED: 5}

    def test_places_with_few_people_are_one_group_and_a_minors_is_none(self, season):
        counted = figures(season, TODAY)
        assert dict(counted.places) == {"Lindholm Bay": 6, "Ostermark": 3, NOT_WRITTEN: 1}  # viewer 9 is a minor
        text = season.source.text.replace("in#s5", "in#s10").replace("in#s4", "in#s12")
        (season.folder / "season.yaml").write_text(text)
        places = dict(figures(load_season(season.folder / "season.yaml"), TODAY).places)
        assert places == {"Lindholm Bay": 4, "Ostermark": 3, NOT_WRITTEN: 1, ELSEWHERE: 2}

    def test_neighbours_that_are_alike_are_told_by_their_days(self, counted):
        assert [str(clash) for clash in counted.clashes] == [
            "2026-03-31 and 2026-04-08: demonstrator A twice in a row",
            "2026-04-16 and 2026-04-21: demonstrator B twice in a row",
            "2026-04-29 and 2026-05-07: demonstrator C twice in a row",
            "2026-05-12 and 2026-05-20: demonstrator A twice in a row",
        ]

    def test_turnaround_is_counted_in_days_and_judged_by_numpy(self, counted):
        days = [30 + 7 * k + k % 3 - k for k in range(9)]
        assert counted.turnaround == tuple(sorted(days))
        assert counted.median == np.median(days)
        # numpy's usual percentile is type 7 of Hyndman and Fan, as stated there.
        assert counted.ninety == pytest.approx(np.percentile(days, 90))

    @given(st.lists(st.integers(0, 400), min_size=1, max_size=60))
    def test_nine_in_ten_agrees_with_numpy_for_any_days(self, days):
        made = dataclasses.replace(_plain(), turnaround=tuple(sorted(days)))
        assert made.ninety == pytest.approx(float(np.percentile(days, 90)))
        assert made.median == statistics.median(days)

    def test_follow_ups_whose_day_has_come(self, counted, season):
        assert (counted.asked, counted.answered, counted.due, counted.barred) == (2, 0, 2, 0)
        text = season.source.text + "  - {id: again, template: review, submission: in#s11, follows: item0}\n"
        (season.folder / "season.yaml").write_text(text)
        again = figures(load_season(season.folder / "season.yaml"), TODAY)
        assert (again.asked, again.answered, again.due) == (2, 1, 1)

    def test_ends_of_releases(self, counted):
        assert [(str(day), count) for day, count in counted.releases] == [
            ("2026-07-30", 2), ("2026-08-30", 1), ("2026-09-30", 2),
        ]  # fmt: skip
        assert (counted.endless, counted.missing) == (5, 0)

    def test_lengths_are_added_up_exactly(self, tmp_path):
        season = load_season(plant(tmp_path, boards=3))
        third = Fraction(1, 3)
        key = ("Low tide", "House library")
        counted = figures(season, TODAY, times=lambda _: Lengths(sponsor=third, music={key: 10 * third}))
        assert (counted.sponsors, counted.sponsor_seconds) == (3, Fraction(1))
        assert [(use.title, use.items, use.seconds) for use in counted.music] == [("Low tide", 3, Fraction(10))]
        assert (counted.planned, counted.unplanned) == (3, 0)

    def test_a_storyboard_that_cannot_be_planned_is_counted_as_such(self, tmp_path):
        from segmentkit.errors import MediaUnusable

        def failing(board):
            raise MediaUnusable("no music")

        counted = figures(load_season(plant(tmp_path, boards=2)), TODAY, times=failing)
        assert (counted.planned, counted.unplanned, counted.sponsor_seconds) == (0, 2, None)

    def test_finished_files_are_counted_as_the_journal_says(self, season, tmp_path):
        def made(name, profile=""):
            seconds = 4.0 if name.endswith(".mp4") else 0.0
            return {"file": name, "sha256": "", "bytes": 1, "profile": profile, "seconds": seconds}

        first = [made("a.mp4", "web"), made("a.manifest.json", "web"), made("b.mp4", "profiles/short.yaml")]
        lines = (
            {"item": "item0", "state": "done", "files": first},
            {"item": "item1", "state": "done", "files": [made("c.mp4", "web")]},
            {"item": "item1", "state": "explained"},
        )
        put(tmp_path / "out" / "journal.jsonl", "".join(json.dumps(line) + "\n" for line in lines))
        assert figures(season, TODAY).delivered == (("short", 1), ("web", 1))  # the last line of an item holds

    def test_music_and_disclosures_of_a_real_plan(self, tmp_path):
        from segmentkit.season.report_times import lengths_on
        from segmentkit.storyboard.load import load

        plant(tmp_path, boards=1)
        with wave.open(str(tmp_path / "boards" / "bed.wav"), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(48_000)
            tone = 8000 * np.sin(2 * np.pi * 220 * np.arange(12 * 48_000) / 48_000)
            file.writeframes(tone.astype("<i2").tobytes())
        made = lengths_on(TODAY, load(tmp_path / "boards" / "0.yaml"))
        assert made.sponsor == 6  # as written: hold 6s
        assert made.music == {("Low tide", "House library"): Fraction(10)}  # the whole slot


def _plain():
    empty = dict.fromkeys(("verdicts", "reasons", "faults", "models", "hands", "sexes", "places", "airings"), ())
    more = dict.fromkeys(("clashes", "turnaround", "releases", "music", "delivered"), ())
    numbers = dict.fromkeys(
        ("items", "dated", "aired", "came", "used", "asked", "answered", "due", "barred", "endless", "missing",
         "sponsors", "planned", "unplanned"), 0,
    )  # fmt: skip
    from segmentkit.season.report import Figures

    return Figures(
        failed=(),
        title="A season",
        programme="",
        today=TODAY,
        sponsor_seconds=None,
        letters={},
        **empty,
        **more,
        **numbers,
    )


class TestPage:
    def test_nobody_is_named_in_any_of_the_three(self, counted):
        for text in (season_page(counted), csv_text(counted), json.dumps(as_data(counted))):
            plain = re.sub(r"base64,[^)]*", "", text).casefold()
            for secret in ("viewer0", "viewer1", "secretname", "kim", "field", "ines", "lars", "nora", "item0", "fell"):
                assert not re.search(rf"(?<![a-z]){secret}(?![a-z])", plain), secret

    def test_the_page_opens_without_a_network_and_is_well_formed(self, counted):
        page = season_page(counted)
        assert not re.search(r"""(?:src|href)=["'](?!data:)|@import|https?://""", page)
        for drawing in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
            ElementTree.fromstring(drawing)
        assert page.count("<svg") >= 9
        assert 'name="viewport"' in page

    def test_every_number_of_the_bars_is_written_beside_them(self, counted):
        page = season_page(counted)
        for name, count in (*counted.faults, *counted.verdicts, *counted.places, *counted.hands):
            assert re.search(rf">(?:[A-Z] · )?{re.escape(name)}</text>.{{0,120}}.*?>{count}</text>", page), name

    @pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
    def test_contrast_is_enough(self, colours):
        # WCAG 2.2, relative luminance and contrast ratio, written here from the recommendation.
        def luminance(text):
            text = text.lstrip("#")
            text = "".join(2 * c for c in text) if len(text) == 3 else text
            parts = [int(text[k : k + 2], 16) / 255 for k in (0, 2, 4)]
            line = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
            return 0.2126 * line[0] + 0.7152 * line[1] + 0.0722 * line[2]

        def ratio(one, other):
            high, low = sorted((luminance(colours[one]), luminance(colours[other])), reverse=True)
            return (high + 0.05) / (low + 0.05)

        for text in ("ink", "quiet", "warn"):
            for ground in ("paper", "ground"):
                assert ratio(text, ground) >= 4.5, (text, ground)
        assert ratio("inside", "bar") >= 4.5
        assert ratio("bar", "paper") >= 3
        assert ratio("stat", "paper") >= 3

    def test_an_empty_season_has_a_page_too(self):
        page = season_page(_plain())
        assert "no item has a day yet" in page
        assert "nothing to count" in page

    def test_markup_in_names_is_text(self, counted):
        loud = dataclasses.replace(counted, title="<script>x</script>", faults=(("<b>&", 2),))
        page = season_page(loud)
        assert "<script>x" not in page
        assert "&lt;b&gt;&amp;" in page

    def test_bars_are_as_long_as_their_numbers(self):
        widths = [float(w) for w in re.findall(r'width="([\d.]+)%" height="17"', bars([("a", 8), ("b", 2)]))]
        assert widths[0] == 4 * widths[1]

    def test_equal_days_lie_above_one_another(self):
        drawing = spread([10, 10, 20], 10, 18, "days")
        dots = re.findall(r'<circle class="dot" cx="([\d.]+)%" cy="([\d.]+)"', drawing)
        assert dots[0][0] == dots[1][0]
        assert dots[0][1] != dots[1][1]

    def test_lengths_are_said_to_a_tenth(self):
        said = [seconds_text(Fraction(n, 10)) for n in (0, 84, 599, 600, 634)]
        assert said == ["0.0 s", "8.4 s", "59.9 s", "1:00.0", "1:03.4"]
        assert seconds_text(None) == "not known"


class TestData:
    def test_csv_and_json_say_the_same(self, counted):
        rows = list(csv.reader(io.StringIO(csv_text(counted))))
        assert rows[0] == ["figure", "of", "number"]
        data = as_data(counted)
        told = {(row[0], row[1]): row[2] for row in rows[1:]}
        assert told["faults", "sway"] == str(data["faults"]["sway"]) == "4"
        assert told["turnaround days", "nine_in_ten"] == f"{data['turnaround_days']['nine_in_ten']:g}"
        assert json.loads(json.dumps(data)) == data

    def test_the_list_that_names_people_is_apart_and_private(self, counted, season, tmp_path):
        from segmentkit.season.report import open_follow_ups

        text = people_text(season, counted, open_follow_ups(season, TODAY))
        rows = list(csv.reader(io.StringIO(text)))
        day = (FIRST + datetime.timedelta(days=130)).isoformat()  # aired on the 30th day, asked 100 days on
        assert ["follow-up", day, "viewer0", "item0", "due"] in rows
        assert ["demonstrator", "", "ines", "", "demonstrator A"] in rows
        assert ["release ends", "2026-07-30", "viewer0", "", "holds"] in rows
        path = write_people(tmp_path / "people.csv", text)
        assert path.stat().st_mode & 0o077 == 0
