from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from segmentkit.errors import MediaUnusable
from segmentkit.render.fonts import FontBook, characters_of, missing_glyphs
from segmentkit.render.text import Typesetter
from tests.render.drawn import LOOK

BOOK = FontBook(LOOK)
SETTER = Typesetter(BOOK)
REGULAR = BOOK.weights["regular"].path
SAMPLE = "AZaz09éőßŁśığøÅñ¿—–…€°½×→ﬁΩЖ左腕לعक★\u0300"


def test_the_table_of_characters_agrees_with_the_rasteriser():
    """FreeType (by Pillow) draws the font's empty box for what is missing: an independent answer for each character."""
    font = ImageFont.truetype(str(REGULAR), 40, layout_engine=ImageFont.Layout.BASIC)
    box = bytes(font.getmask("\U0010fffe"))
    drawn = {c for c in SAMPLE if bytes(font.getmask(c)) != box}
    assert drawn == {c for c in SAMPLE if ord(c) in characters_of(REGULAR)}
    assert "ő" in drawn
    assert "左" not in drawn


@pytest.mark.parametrize("weight", ["regular", "medium", "bold"])
def test_every_weight_has_the_letters_of_latin_script(weight):
    latin = "".join(chr(code) for code in (*range(0x20, 0x7F), *range(0xA1, 0x180)) if code not in {0xAD, 0x149})
    assert BOOK.weights[weight].lacks(latin) == ""


def test_missing_glyphs_are_named_once_and_in_order():
    assert missing_glyphs("Größe 45° 左腕左 é", LOOK) == "左腕"
    assert missing_glyphs("e\u0301 soft\u00adhyphen zero\u200bwidth", LOOK) == ""


def test_a_file_that_is_no_font_is_a_designed_error(tmp_path: Path):
    path = tmp_path / "font.ttf"
    path.write_bytes(b"not a font at all, but some bytes to read")
    with pytest.raises(MediaUnusable, match="is no TrueType"):
        characters_of(path)
    with pytest.raises(MediaUnusable, match="cannot be read"):
        characters_of(tmp_path / "none.ttf")


def test_the_fonts_travel_with_their_licence_and_are_small():
    folder = Path(LOOK.type.folder)
    assert "SIL OPEN FONT LICENSE" in (folder / "OFL.txt").read_text(encoding="utf-8")
    assert sum(path.stat().st_size for path in folder.iterdir()) < 1_200_000


def test_lines_are_balanced():
    text = SETTER.set("Kinder to the lower back", "regular", 67, 500)
    assert text.lines == ("Kinder to the", "lower back")
    even = SETTER.set("one two three four five six seven eight nine ten", "regular", 60, 900)
    assert len(even.lines) == 2
    assert min(even.widths) > 0.75 * max(even.widths)


def test_kerning_counts():
    assert SETTER.advance("AV", "bold", 100) < SETTER.advance("A", "bold", 100) + SETTER.advance("V", "bold", 100)


words = st.text(alphabet="abcdefghijABCDE ÄÖß-/éőwm", min_size=1, max_size=120)


@settings(max_examples=60, deadline=None)
@given(words, st.integers(120, 900), st.sampled_from([45.0, 67.0, 124.0]))
def test_no_line_is_wider_than_its_room_and_no_letter_is_lost(text, room, size):
    done = SETTER.set(text, "bold", size, room)
    for line, width in zip(done.lines, done.widths, strict=True):
        assert width <= room + 0.01 or len(line) == 1
    squeezed = "".join(text.split())
    assert "".join("".join(done.lines).split()) == squeezed


def test_ink_stays_within_the_mask():
    text = SETTER.set("Ågjpqy ÉŐ fjord", "bold", 90, 2000)
    mask, right, down = SETTER.mask(text)
    assert mask[0].max() == mask[-1].max() == mask[:, 0].max() == mask[:, -1].max() == 0
    columns = np.nonzero(mask.max(axis=0))[0]
    assert columns.min() + right == pytest.approx(0, abs=6)
    assert columns.max() + right == pytest.approx(text.width, abs=8)
    assert down < -60


def test_capitals_are_measured_as_drawn():
    text = SETTER.set("HEIH", "medium", 100, 2000)
    rows = np.nonzero(SETTER.mask(text)[0].max(axis=1) > 127)[0]
    assert rows.max() - rows.min() + 1 == pytest.approx(text.cap, abs=1.2)


def test_a_text_of_two_scripts_is_set_from_two_fonts():
    look = LOOK.model_copy(update={"type": LOOK.type.model_copy(update={"fallback": (LOOK.type.bold,)})})
    book = FontBook(look)
    first, second = book.weights["regular"], book.fallbacks[0]
    first.__dict__["characters"] = frozenset(range(0x20, 0x7F))
    second.__dict__["characters"] = frozenset(map(ord, "é ,"))
    assert book.runs("Puck é, again", "regular") == [(first, "Puck "), (second, "é, "), (first, "again")]
    assert book.runs("é, é", "regular") == [(second, "é, é")], "one font alone where one can"
    assert book.lacking("Puck é ł") == "ł"
