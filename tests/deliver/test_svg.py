from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.deliver import ink
from segmentkit.deliver.staves import pack
from segmentkit.deliver.svg import STRONG, Sheet, first_fitting, fitted, text_width


@given(st.text(alphabet="abc defW.", min_size=1, max_size=40), st.floats(1, 300))
def test_a_fitted_text_fits_and_keeps_its_start(text: str, width: float):
    short = fitted(text, width, 10)
    assert text_width(short, 10) <= width
    assert short in {"", text} or text.startswith(short.removesuffix("…"))


def test_the_first_wording_that_fits_is_taken():
    assert first_fitting(["run, speed 1/8", "run 1/8", "1/8"], text_width("run 1/8", 9) + 0.1, 9) == "run 1/8"
    assert first_fitting(["much too long"], 4, 9) == ""


def test_a_label_leaves_the_box_that_it_covers():
    sheet = Sheet()
    sheet.text(100, 50, "Drill", 20, ink.INK, anchor="end", weight=STRONG)
    ((text, box),) = sheet.labels
    assert (text, round(box.right, 6)) == ("Drill", 100)
    assert box.width == text_width("Drill", 20, STRONG)
    assert box.y < 50 - 12
    assert box.bottom > 50


def test_what_is_written_is_xml_whatever_is_said():
    sheet = Sheet()
    with sheet.titled('a "<&>" b'):
        sheet.text(0, 10, 'Stop <here> & "now"', 10, ink.INK)
    root = ElementTree.fromstring(sheet.svg(20, 20, fonts=False))
    assert "".join(root.itertext()).split("\n")[1:-1] == ['a "<&>" b', 'Stop <here> & "now"', ""]


def test_what_is_laid_under_comes_first():
    sheet = Sheet()
    sheet.rect(0, 0, 1, 1, "#111")
    under = sheet.here()
    sheet.rect(0, 0, 2, 2, "#222")
    since = sheet.here()
    sheet.rect(0, 0, 3, 3, "#333")
    sheet.lay_under(since, under)
    svg = sheet.svg(9, 9, fonts=False)
    assert svg.index("#111") < svg.index("#333") < svg.index("#222")


intervals = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 30)).map(lambda p: (p[0], p[0] + p[1])), max_size=25)


@given(intervals, st.floats(0, 5))
def test_packed_rows_keep_their_gap_and_are_as_few_as_can_be(spans: list[tuple[float, float]], gap: float):
    rows = pack(spans, gap)
    for k, (start, end) in enumerate(spans):
        for other, (from_, to) in enumerate(spans):
            if k < other and rows[k] == rows[other]:
                assert end + gap <= from_ or to + gap <= start
    # Where all starts differ, the rows needed are the most intervals open at one start (interval graph colouring).
    crowd = max((sum(a <= start < b + gap for a, b in spans) for start, _ in spans), default=0)
    assert len(set(rows)) <= crowd + sum(b + gap == a for a, _ in spans for _, b in spans)


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(
    ("text", "ground", "least"),
    [
        (ink.INK, ink.PAPER, 7), (ink.INK, ink.SAND, 7), (ink.INK, ink.CAUTION, 4.5), (ink.QUIET, ink.PAPER, 4.5),
        (ink.QUIET, ink.PANEL, 4.5), (ink.PAPER, ink.SEA, 4.5), (ink.SAND, ink.SLATE, 4.5),
        (ink.WARNING, ink.PAPER, 4.5),
        *((colour, ink.PAPER, 4.5) for colour in (ink.SUN, ink.SAND_DEEP, *ink.STROKES.values(), *ink.VOICES)),
    ],
)  # fmt: skip
def test_paper_work_is_readable(text: str, ground: str, least: float):
    light, dark = sorted((luminance(text), luminance(ground)), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= least
