from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.geometry import Rect, Size
from segmentkit.render.cards import CardArtist, divider, ground, pane_label, pane_label_report
from segmentkit.render.design import Stage
from segmentkit.render.layout import Item, safe_area
from segmentkit.storyboard.load_look import load_look, shipped_looks
from tests.render.drawn import HD, LOOK, alpha_of, make_card, over

SIZES = {"16:9": HD, "9:16": Size(1080, 1920), "1:1": Size(1080, 1080), "4:5": Size(1080, 1350)}
LOOKS = {name: load_look(name, Path()) for name in shipped_looks()}
ARTISTS = {(name, shape): CardArtist(look, size) for name, look in LOOKS.items() for shape, size in SIZES.items()}
WIDE = ARTISTS["dune", "16:9"]
every_look = pytest.mark.parametrize("look", list(LOOKS))
CARDS = {
    "title": (("item", "Swing Clinic"), ("main", "Hips toward the ball"), ("programme", "The Practice Tee")),
    "end_board": (("main", "Send us your swing"), ("line", "practice-tee.example")),
    "lower_third": (("name", "Marta, Lindholm Bay"), ("line", "7-iron, handicap 22")),
    "information": (
        ("title", "Why it matters"),
        ("line", "Room for the arms"),
        ("line", "Cleaner contact"),
        ("line", "Kinder to the lower back"),
    ),
    "key_points": (("line", "Same set-up"), ("line", "Lead hip back"), ("line", "Keep your room")),
    "key_words": (("line", "Thin"), ("line", "Right")),
    "drill": (
        ("name", "Wall drill"),
        ("count", "10 slow turns, once a day"),
        ("equipment", "A steady wall"),
        ("safety", "No club near the wall"),
        ("line", "Stop if anything hurts"),
    ),
    "caution": (("text", "General advice only. Warm up first. Stop if anything hurts."),),
    "disclosure": (("text", "Paid partnership"),),
    "label": (("text", "Impact"),),
    "guide_mark": (),
}
MAIN = {"main", "name", "title", "text"}


def inside(area: Rect, room: Rect, slack: float = 1.5) -> bool:
    return (
        area.x >= room.x - slack
        and area.y >= room.y - slack
        and area.right <= room.right + slack
        and area.bottom <= room.bottom + slack
    )


# 45 px of capitals at 1080 are 24 lines of standard definition, the least for text on television; 37.5 px are 20 lines,
# the least for subtitles (tiresias.org): the sizes of what is read first and of what is read second.
@every_look
@pytest.mark.parametrize("shape", list(SIZES))
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("kind", list(CARDS))
def test_texts_are_large_clear_and_within_the_safe_area(kind, side, shape, look):
    facts = ARTISTS[look, shape].text_report(make_card(kind, *CARDS[kind], side=side))
    assert facts
    for text in facts:
        assert not text.overflow, text.text
        assert text.cap_height >= (37.5 if text.secondary else 45), text.text
        assert text.contrast >= 4.5
        assert text.missing == ""
        assert inside(text.area, safe_area(SIZES[shape])), text
    if kind != "guide_mark":
        assert not facts[0].secondary


@pytest.mark.parametrize("kind", list(CARDS))
def test_what_is_written_is_all_there(kind):
    texts = [text.text for text in WIDE.text_report(make_card(kind, *CARDS[kind]))]
    assert sorted(texts) == sorted([text for _, text in CARDS[kind]] or ["Guide voice"])


# EBU R 95 graphics safe area and SMPTE ST 2046-1 safe title: 5 % of each side, 1728 x 972 of 1920 x 1080 (x 96 to 1823,
# y 54 to 1025). The standards' percentages are quoted from memory.
def test_the_safe_area_is_the_standard_one():
    assert safe_area(HD) == Rect(96, 54, 1728, 972)
    assert safe_area(Size(1280, 720)) == Rect(64, 36, 1152, 648)
    tall = safe_area(Size(1080, 1920))
    assert tall.y == pytest.approx(0.12 * 1920)
    assert tall.bottom == pytest.approx(0.80 * 1920)


@pytest.mark.parametrize("kind", list(CARDS))
def test_a_held_card_is_the_very_same_patches(kind):
    card = make_card(kind, *CARDS[kind])
    first, later = WIDE.patches(card, 30), WIDE.patches(card, 60)
    assert [id(one) for one in first] == [id(one) for one in later]


@every_look
@pytest.mark.parametrize("kind", list(CARDS))
def test_cards_come_and_go_without_a_jump(kind, look):
    card = make_card(kind, *CARDS[kind])
    size = Size(640, 360)
    artist = CardArtist(LOOKS[look], size)
    assert artist.patches(card, -1) == artist.patches(card, 100) == ()
    frames = [over(artist.patches(card, frame), size).y.astype(float) for frame in (*range(24), *range(84, 100))]
    bare = np.full_like(frames[0], 126.0)
    whole = np.abs(frames[23] - bare).mean()
    steps = [np.abs(b - a).mean() for a, b in zip([bare, *frames], [*frames, bare], strict=True)]
    # No frame changes the picture by more than a good part of the card: nothing pops in or flashes.
    assert max(steps) <= 0.5 * whole
    assert max(steps[14:30]) == 0


def test_cards_without_times_cut():
    card = make_card("label", ("text", "Top"), enter_frames=0, leave_frames=0)
    assert {id(patch) for frame in range(100) for patch in WIDE.patches(card, frame)} == {
        id(patch) for patch in WIDE.patches(card, 50)
    }


@every_look
@pytest.mark.parametrize("kind", ["information", "key_points", "drill", "key_words"])
@pytest.mark.parametrize("side", ["left", "right"])
def test_panels_leave_the_player_most_of_the_picture(kind, side, look):
    size = Size(960, 540)
    alpha = alpha_of(CardArtist(LOOKS[look], size).patches(make_card(kind, *CARDS[kind], side=side), 50), size)
    edge = round(0.44 * size.width)
    assert (alpha[:, edge:] if side == "left" else alpha[:, :-edge]).max() == 0


def test_the_safety_block_has_a_colour_of_its_own():
    frame = over(WIDE.patches(make_card("drill", *CARDS["drill"]), 50))
    without = over(WIDE.patches(make_card("information", *CARDS["information"]), 50))
    # The caution colour's Cb code lies far below every other colour's of the panel.
    assert (frame.u < 76).sum() > 20_000
    assert (without.u < 76).sum() < 500


hostile = st.text(
    alphabet=st.sampled_from([*"abcdefghijklmnopqrstuvwxyzABCÄÖÜßéőłŚ", *"     ", *"-/–.,'"]), min_size=1, max_size=160
).filter(lambda text: text.strip())


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(list(LOOKS)),
    st.sampled_from([k for k in CARDS if CARDS[k]]),
    st.sampled_from(["16:9", "9:16", "1:1", "4:5"]),
    st.data(),
)
def test_no_text_ever_runs_out_of_the_picture(look, kind, shape, data):
    fields = tuple((name, data.draw(hostile)) for name, _ in CARDS[kind])
    small = Size(SIZES[shape].width // 4 // 2 * 2, SIZES[shape].height // 4 // 2 * 2)
    artist = CardArtist(LOOKS[look], small)
    card = make_card(kind, *fields)
    for text in artist.text_report(card):
        assert inside(text.area, safe_area(small)), text
    assert artist.patches(card, 50)


def test_too_much_text_is_reported_and_not_hidden():
    long = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft"
    (fact,) = WIDE.text_report(make_card("key_points", ("line", long)))
    assert fact.overflow
    much = tuple(("line", "Many words that say the same again and again and never come to an end") for _ in range(9))
    assert all(fact.overflow for fact in WIDE.text_report(make_card("information", *much)))


def test_missing_glyphs_are_reported():
    (fact,) = WIDE.text_report(make_card("label", ("text", "Top 左")))
    assert fact.missing == "左"


@every_look
@pytest.mark.parametrize(
    "size",
    [pytest.param(size, id=name, marks=[] if name == "16:9" else pytest.mark.slow) for name, size in SIZES.items()],
)
def test_the_plain_background_is_quiet_and_legal(size, look):
    picture = ground(size, LOOKS[look])
    assert picture.size == size
    assert ground(size, LOOKS[look]) is picture
    assert 16 <= picture.y.min() <= picture.y.max() <= 235
    rough = np.abs(np.diff(picture.y.astype(int), axis=1))
    assert np.mean(rough > 6) < 0.03


HALVES = (Rect(0, 0, 956, 1080), Rect(964, 0, 956, 1080))


def test_names_stand_in_their_panes():
    for window in HALVES:
        (patch,) = pane_label("Our demonstrator", "mirrored", window, LOOK, HD)
        assert inside(patch.rect, Rect(window.x, 54, window.width, 974))
        name, note = pane_label_report("impact", 0, "Our demonstrator", "mirrored", window, LOOK, HD)
        assert (name.text, note.text) == ("Our demonstrator", "mirrored")
        assert not name.overflow
        assert name.cap_height >= 45
        assert note.cap_height >= 30


def test_the_divider_fills_the_gap_between_two_panes():
    alpha = alpha_of(divider(HALVES, LOOK, HD))
    assert (alpha[:, 956:964] == 1).all()
    assert alpha[:, :950].max() == alpha[:, 970:].max() == 0
    stacked = (Rect(0, 0, 1080, 956), Rect(0, 964, 1080, 956))
    alpha = alpha_of(divider(stacked, LOOK, Size(1080, 1920)), Size(1080, 1920))
    assert (alpha[956:964] == 1).all()
    assert alpha[:950].max() == alpha[970:].max() == 0


def test_an_unknown_card_is_refused():
    with pytest.raises(ValueError, match="no card"):
        WIDE.patches(make_card("banner", ("text", "x")), 50)


RIGHT_TO_LEFT = {
    "information": (("title", "למה זה חשוב"), ("line", "מקום לידיים"), ("line", "מגע נקי יותר")),
    "drill": (
        ("name", "תרגיל הקיר"),
        ("count", "10 סיבובים"),
        ("safety", "בלי מקל ליד הקיר"),
        ("line", "לעצור אם כואב"),
    ),
}


@every_look
@pytest.mark.parametrize("shape", list(SIZES))
@pytest.mark.parametrize("kind", list(RIGHT_TO_LEFT))
def test_cards_that_are_read_from_right_to_left_are_even_on_the_right(look, shape, kind):
    artist = ARTISTS[look, shape]
    facts = artist.text_report(make_card(kind, *RIGHT_TO_LEFT[kind]))
    rows = {text.text: text.area for text in facts}
    bare = [rows[text] for name, text in RIGHT_TO_LEFT[kind] if name in {"title", "name", "count"}]
    listed = [rows[text] for name, text in RIGHT_TO_LEFT[kind] if name == "line" and kind == "information"]
    room = safe_area(SIZES[shape])
    for area in bare:
        assert area.right == pytest.approx(room.right, abs=2)
    for area in listed:  # the bullet stands to the right of its line
        assert 0.3 < (room.right - area.right) / area.height < 1.6
    for area in rows.values():
        assert inside(area, room)


def test_the_bullet_of_a_line_from_right_to_left_stands_to_its_right():
    stage, marks = Stage(LOOK, HD), []
    items = [
        Item(text=t, weight="regular", size=67, tint=LOOK.palette.ink, bullet=True) for t in ("מקום לידיים", "מגע")
    ]
    set_ = stage.column(items, 600, 400)
    set_.paint(
        stage.painting(0, 0, 1920, 1080), stage.setter, 100, 100, LOOK.palette.accent, lambda *at: marks.append(at[1])
    )
    assert set_.leftwards
    for mark, one in zip(marks, set_.placed, strict=True):
        assert mark > 100 + one.indent + one.text.width
