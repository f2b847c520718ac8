import re
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.deliver.chart import WIDTH, draw_chart, write_chart
from segmentkit.deliver.envelope import envelopes
from segmentkit.deliver.staves import staves
from segmentkit.errors import OutputFailed
from segmentkit.geometry import Rect
from segmentkit.media.sound import write_wav
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard
from tests.plan.lesson import lesson, planned_lesson

SLACK_OF_A_PEN = 0.05


def drawn(slot: str = "0:50", rate: str = "25", a_word: Fraction = Fraction(2, 5)) -> tuple[Plan, Storyboard]:
    loaded = lesson(slot, rate)
    return planned_lesson(loaded, a_word=a_word)[0], loaded.board


def collisions(labels: list[tuple[str, Rect]]) -> list[tuple[str, str]]:
    boxes = [(text, box.inset(SLACK_OF_A_PEN)) for text, box in labels]
    return [(a, b) for k, (a, one) in enumerate(boxes) for b, other in boxes[:k] if one.overlaps(other)]


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(slot=st.integers(5, 140), rate=st.sampled_from(["25", "30000/1001", "60000/1001"]), word=st.integers(1, 9))
def test_labels_never_collide_nor_leave_the_paper(slot: int, rate: str, word: int):
    plan, board = drawn(f"{slot}s", rate, Fraction(word, 10))
    sheet, height = draw_chart(plan, board)
    assert collisions(sheet.labels) == []
    for text, box in sheet.labels:
        assert box.x >= 0, text
        assert box.right <= WIDTH + SLACK_OF_A_PEN, text
        assert box.bottom <= height, text


def test_the_comparison_of_boxes_can_fail():
    assert collisions([("a", Rect(0, 0, 10, 10)), ("b", Rect(9, 9, 10, 10))]) == [("b", "a")]


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(slot=st.integers(10, 140), word=st.integers(1, 12))
def test_staves_hold_whole_beats_without_gap_at_one_scale(slot: int, word: int):
    plan, _ = drawn(f"{slot}s", a_word=Fraction(word, 10))
    cut = staves(plan, 100, 1500)
    assert [stave.span.start for stave in cut] == [0, *(stave.span.end for stave in cut[:-1])]
    assert cut[-1].span.end == plan.frames
    starts = {beat.span.start for beat in plan.beats}
    assert all(stave.span.start in starts for stave in cut)
    assert len({stave.per_frame for stave in cut}) == 1
    assert max(stave.end for stave in cut) == pytest.approx(1500)


def test_the_big_figure_says_over_or_under():
    labels = [text for text, _ in draw_chart(*drawn())[0].labels]
    assert "0:00:00:00" in labels
    assert "on the frame" in labels
    plan, board = drawn("0:20")
    over = [text for text, _ in draw_chart(plan, board)[0].labels]
    assert (plan.frames - plan.slot, "over the slot" in over, "the slot ends here" in over) == (330, True, True)
    assert "+0:00:13:05" in over  # 330 frames at 25: 13 s and 5 frames


def test_every_beat_stroke_card_and_word_is_on_the_sheet():
    plan, board = drawn()
    sheet, height = draw_chart(plan, board)
    text = " ".join(text for text, _ in sheet.labels)
    for beat in plan.beats:
        assert beat.id in text
    assert "“daylight”" in text
    assert "Aksel" in text
    assert "Jonna" in text
    said = [word for line in plan.speech for word in line.text.split()]
    shown = re.sub("[{}]", "", text).split()
    assert all(word in shown for word in said)
    root = ElementTree.fromstring(sheet.svg(WIDTH, height, fonts=False))
    titles = [title.text or "" for title in root.iter("{http://www.w3.org/2000/svg}title")]
    assert any(title.startswith("drill: 00:00:") and "least 6 s, most 6 s" in title for title in titles)
    assert any(title.startswith("gap: fault line") and 'on "daylight"' in title for title in titles)


def test_a_page_opens_without_a_network(tmp_path: Path):
    plan, board = drawn()
    page = write_chart(tmp_path / "chart.html", plan, board).read_text("utf-8")
    assert "data:font/ttf;base64," in page
    addresses = set(re.findall(r"https?://[^\s\"'<>)]+", page))
    assert addresses == {"http://www.w3.org/2000/svg"}  # a name of XML, which nothing fetches
    assert not re.search(r"<(link|script|img|iframe)[^>]+(src|href)=", page)


def test_a_drawing_of_its_own_brings_its_fonts(tmp_path: Path):
    plan, board = drawn()
    text = write_chart(tmp_path / "chart.svg", plan, board).read_text("utf-8")
    root = ElementTree.fromstring(text)
    assert root.get("viewBox", "").startswith(f"0 0 {WIDTH} ")
    assert "@font-face" in text


@pytest.mark.slow
def test_a_picture_is_the_drawing_at_twice_its_size(tmp_path: Path):
    pytest.importorskip("resvg_py", reason="the extra `chart` is not installed")
    from PIL import Image

    plan, board = drawn()
    _, height = draw_chart(plan, board)
    with Image.open(write_chart(tmp_path / "chart.png", plan, board)) as picture:
        assert picture.size == (2 * WIDTH, round(2 * height))
        # The first beat's block is slate or sea, the paper around it is light: the letters and shapes are really there.
        dark = np.asarray(picture.convert("L")) < 90
    assert 0.01 < dark.mean() < 0.4


def test_another_ending_is_refused(tmp_path: Path):
    plan, board = drawn()
    with pytest.raises(OutputFailed, match=r"not written as \.gif — \.html, \.svg and \.png are"):
        write_chart(tmp_path / "chart.gif", plan, board)
    assert list(tmp_path.iterdir()) == []


def test_thumbnails_lie_in_their_shots(tmp_path: Path):
    import cv2

    plan, board = drawn()
    picture = cv2.imencode(".jpg", np.full((90, 160, 3), 120, np.uint8))[1].tobytes()
    bare, _ = draw_chart(plan, board)
    sheet, height = draw_chart(plan, board, thumbnails={shot.id: picture for shot in plan.shots})
    assert sheet.svg(WIDTH, height).count("<image ") == len(plan.shots)
    assert collisions(sheet.labels) == []
    assert len(sheet.labels) == len(bare.labels)


def test_an_envelope_follows_the_sound_frame_by_frame(tmp_path: Path):
    from dataclasses import replace

    plan, _ = drawn()
    line = next(line for line in plan.speech if line.beat == "impact")
    # Half scale for a second, silence for a second, full scale for the rest; 0.5 s of noise before it is trimmed.
    samples = np.zeros((48_000 * 9, 1), np.float32)
    samples[:24_000] = 0.9
    samples[24_000:72_000] = 0.4
    samples[120_000:] = 0.8
    write_wav(tmp_path / "take.wav", samples)
    taken = replace(line, path=tmp_path / "take.wav", source_start=Fraction(1, 2))
    envelope = envelopes(replace(plan, speech=(taken,)))["impact", line.line]
    assert len(envelope) == line.span.frames
    assert envelope[:25] == pytest.approx((0.5,) * 25, abs=1e-5)
    assert envelope[25:50] == (0.0,) * 25
    assert envelope[50:] == pytest.approx((1.0,) * (line.span.frames - 50), abs=1e-5)
