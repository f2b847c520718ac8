"""The batch page, the tables and the shooting sheet."""

from __future__ import annotations

import csv
import html.parser
import io
import json
import re

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.batch import printable
from segmentkit.intake.page import batch_page
from segmentkit.intake.record import as_data, csv_text
from segmentkit.intake.sheet import sheet_page
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.submission import VerdictWord
from tests.intake.makers import LIMITED, NOT_USED, RESHOOT, TODAY, USE, part, reason, report

LIMITS = intake_limits()
VOID = {"meta", "img", "br", "input"}


class Reader(html.parser.HTMLParser):
    """Checks that every tag is closed; keeps tags and text."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.words = [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID and not self.get_starttag_text().endswith("/>"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in self.open:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def page(*reports):
    return batch_page(tuple(reports), "Intake", TODAY)


def test_each_verdict_stands_as_a_word_beside_its_colour():
    text = page(*(report(f"s-{word.rank}", word, part()) for word in VerdictWord))
    read = Reader(text)
    for word in VerdictWord:
        assert any(said.strip().endswith(f" {word.value}") for said in read.words)
    assert "1 use, 1 use, limited, 1 reshoot, 1 not used" in text


def test_the_page_loads_nothing_and_says_so():
    text = page(report("s-1", USE, part(thumbs={"top": b"\xff\xd8jpeg"})))
    read = Reader(text)
    assert not re.search(r"https?://(?!www\.w3\.org)|//cdn|url\(|@import|<link|<iframe", text)
    assert any(attrs.get("http-equiv") == "Content-Security-Policy" for tag, attrs in read.tags)
    assert [attrs["src"][:23] for tag, attrs in read.tags if tag == "img"] == ["data:image/jpeg;base64,"]
    assert all(attrs.get("alt") for tag, attrs in read.tags if tag == "img")


def test_hostile_words_stay_words():
    evil = "<script>alert(1)</script>\"' onload=x"
    text = page(report(evil, RESHOOT, part("down-the-line", reason(evil)), shown=evil, question=evil, miss=evil))
    assert "<script>alert" not in text
    assert sum(tag == "script" for tag, _ in Reader(text).tags) == 1


def test_every_row_can_be_sorted_by_the_three_columns():
    read = Reader(page(report("s-1", USE), report("s-2", NOT_USED)))
    cells = [attrs for tag, attrs in read.tags if tag == "td"]
    assert len(cells) == 8
    assert all("data-key" in attrs for attrs in cells)
    assert sum(tag == "button" for tag, _ in read.tags) == 3


def test_the_table_is_one_line_a_part_and_no_formula():
    two = report(
        "=s-1", LIMITED, part("down-the-line", reason("rate-low", LIMITED)), part("face-on"), without=("no tempo",)
    )
    rows = list(csv.reader(io.StringIO(csv_text((two, report("s-2", NOT_USED))))))
    assert len(rows) == 4
    assert rows[1][0] == "'=s-1"
    assert rows[1][5] == "rate-low"
    assert rows[3][3] == ""


def test_the_data_are_plain_and_complete():
    data = json.loads(json.dumps(as_data((report("s-1", RESHOOT, part("grip", reason("too-dark"))),))))
    told = data["submissions"][0]["parts"][0]["reasons"][0]
    assert told == {
        "id": "too-dark",
        "verdict": "reshoot",
        "what": "too-dark is 3 — at most 2",
        "without": "",
        "numbers": {"value": 3},
    }


def test_names_of_files_are_made_visible():
    assert printable("two\nlines\x1b[31m.mp4") == "two\\nlines\\x1b[31m.mp4"
    assert printable("schön.mp4") == "schön.mp4"
    assert printable("bad\udcff.mp4") == "bad\\udcff.mp4"


class TestSheet:
    def test_its_numbers_are_those_of_the_limits(self):
        text = " ".join(Reader(sheet_page(LIMITS)).words)
        for said in (
            "4.5 m",
            "about 90 cm",
            "120 pictures",
            "fewer than 60",
            "3 to 60 seconds",
            "720 pixels",
            "50 % or more",
        ):
            assert said in text
        nearer = LIMITS.model_copy(update={"distance": 5.25, "seconds_most": 40.0})
        text = " ".join(Reader(sheet_page(nearer)).words)
        assert text.count("5.25 m") == 3
        assert "3 to 40 seconds" in text

    def test_it_has_two_plans_and_a_frame_with_titles(self):
        tags = [tag for tag, _ in Reader(sheet_page(LIMITS)).tags]
        assert tags.count("svg") == 3
        assert tags.count("title") == 4

    def test_words_of_the_house_with_an_unknown_field_are_told(self, tmp_path):
        from segmentkit.storyboard.wording_file import wording_path

        text = wording_path("sheet.yaml", None).read_text().replace("{distance}", "{distnace}")
        (tmp_path / "sheet.yaml").write_text(text)
        with pytest.raises(StoryboardUnreadable, match=r"\{distnace\}"):
            sheet_page(LIMITS, tmp_path)
