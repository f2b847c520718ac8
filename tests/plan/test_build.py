from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.checks.run import run_checks
from segmentkit.facts import Facts
from segmentkit.geometry import Point
from segmentkit.plan.build import build_plan
from segmentkit.plan.defaults import reading_time
from segmentkit.plan.model import ClipPicture, Plan
from segmentkit.plan.text import plan_text
from segmentkit.storyboard.load import loads
from segmentkit.timebase import Span, frames_covering
from tests.plan.footage import clip_facts, planned, segment, spoken
from tests.plan_makers import clean, context

GOLDEN = """\
# Test: 1000 frames at 25 = 0:40.0, slot 1000 frames
00:00:00:00      0   151  beat   open (75..100..175)
00:00:00:00      0   151  shot   title viewer f48 softened
00:00:00:00      0   151  card   title Hello
00:00:06:01    151   311  beat   impact (178..178..376)
00:00:06:01    151    51  shot   run at 1/8 viewer f180..f210
00:00:06:11    161   150  speech presenter [unspoken] Stop it at impact now, and if you look hard, there's daylight behind her hips.
00:00:08:02    202   260  shot   freeze viewer f210 impact
00:00:10:21    271   191  stroke gap fault double_arrow drawn in 20 on "daylight"
00:00:18:12    462   538  beat   compare (100..100..750)
00:00:18:12    462   538  shot   split viewer f210 impact | model f200 impact
00:00:18:12    462   538  match  ground, belt; scale 1.000 : 1.053; heel line 0.0 px; belt 0.0 %
00:00:18:12    462   538  stroke gap kept in compare/0
00:00:18:22    472    50  speech presenter [unspoken] And here is our demonstrator.
00:00:19:00    475   525  card   key_points Keep your room
00:00:19:12    487   513  stroke room reference ring drawn in 20
"""


def test_the_plan_as_text():
    assert plan_text(planned(segment())) == GOLDEN


def assert_tiles(plan: Plan) -> None:
    ends = [0]
    for shot in plan.shots:
        assert shot.span.start == ends[-1]
        assert shot.span.frames > 0
        for pane in shot.panes:
            if isinstance(pane.picture, ClipPicture):
                assert len(pane.picture.frames) == shot.span.frames
        ends.append(shot.span.end)
    assert ends[-1] == plan.frames
    for beat in plan.beats:
        own = [shot.span for shot in plan.shots if shot.beat == beat.id]
        assert (own[0].start, own[-1].end) == (beat.span.start, beat.span.end)


@pytest.mark.parametrize(
    ("rate", "slot", "frames"),
    # 3:00 in frames: 180 s times the rate, to the nearest whole frame.
    [("25", "3:00", 4500), ("50", "3:00", 9000), ("24000/1001", "3:00", 4316), ("30000/1001", "3:00", 5395),
     ("60000/1001", "3:00", 10789), ("30000/1001", "00:03:00;00", None), ("30000/1001", "00:03:00;02", 5396),
     ("25", "00:00:59:24", 1499)],
)  # fmt: skip
def test_the_slot_is_met_to_the_frame(rate: str, slot: str, frames: int | None):
    text = segment(slot, rate).replace("hold: 4s..30s", "hold: 4s..170s")
    if frames is None:
        with pytest.raises(Exception, match="does not exist"):
            planned(text)
        return
    plan = planned(text)
    assert (plan.slot, plan.frames) == (frames, frames)
    assert_tiles(plan)


@settings(max_examples=60, deadline=None)
@given(
    slot=st.integers(1, 90), rate=st.sampled_from(["24000/1001", "25", "30000/1001", "50", "60000/1001"]),
    word=st.integers(1, 12),
)  # fmt: skip
def test_any_plan_tiles_and_either_meets_its_slot_or_is_at_its_limit(slot: int, rate: str, word: int):
    plan = planned(segment(f"{slot}s", rate), a_word=Fraction(word, 10))
    assert_tiles(plan)
    least, most = sum(b.least for b in plan.beats), sum(b.most for b in plan.beats)
    assert plan.frames == min(max(plan.slot, least), most)
    for stroke in plan.strokes:
        shot = next(shot for shot in plan.shots if shot.id == stroke.shot)
        assert shot.span.start <= stroke.span.start < stroke.span.end <= shot.span.end


def test_a_slower_reading_moves_the_stroke_with_its_word():
    def start(a_word: Fraction) -> tuple[int, int]:
        plan = planned(segment(), a_word=a_word)
        stroke = next(s for s in plan.strokes if s.id == "gap" and not s.kept)
        word = next(w for line in plan.speech for w in line.words if w.text == "daylight")
        return stroke.span.start, word.frame

    for a_word in (Fraction(2, 5), Fraction(44, 100)):
        stroke, word = start(a_word)
        assert stroke == word
    assert start(Fraction(44, 100))[0] > start(Fraction(2, 5))[0]


def test_a_kept_stroke_stays_where_it_was_drawn_and_is_not_drawn_again():
    plan = planned(segment())
    first, kept = [s for s in plan.strokes if s.id == "gap"]
    assert (kept.points, kept.kept, kept.shot, kept.pane) == (first.points, True, "compare/0", 0)
    assert kept.draw_start + kept.draw_frames < kept.span.start


def test_the_sides_of_a_matched_split_share_ground_and_belt():
    split = planned(segment()).shots[-1]
    heels = [Point(0.4, 0.9), Point(0.42, 0.88)]
    belts = [Point(0.45, 0.5), Point(0.45, 0.5)]
    heel_y = [pane.placement.to_canvas(p).y for pane, p in zip(split.panes, heels, strict=True)]
    belt_y = [pane.placement.to_canvas(p).y for pane, p in zip(split.panes, belts, strict=True)]
    assert abs(heel_y[0] - heel_y[1]) < 0.01
    assert abs(belt_y[0] - belt_y[1]) < 0.01
    for pane in split.panes:
        place = pane.placement
        assert place.dx <= place.window.x
        assert place.dy <= place.window.y
        assert place.dx + place.scale * place.source.width >= place.window.right - 1
        assert place.dy + place.scale * place.source.height >= place.window.bottom - 2


def test_moments_that_do_not_exist_are_all_found_with_their_places():
    text = segment().replace("impact: f210", "impact: f9000").replace("centre: address.belt", "centre: address.belt")
    loaded = loads(text)
    facts = Facts(clips={c: clip_facts() for c in loaded.board.clips}, stills={}, readings=spoken(loaded))
    _, problems = build_plan(loaded, facts)
    assert {p.id for p in problems} == {"moment-missing"}
    assert all("frame 9000 is past the end of clip viewer" in p.what for p in problems)
    assert len({p.place for p in problems}) == len(problems) == 3


def test_what_if_the_slot_were_shorter():
    assert planned(segment(), slot=900).frames == 900
    assert planned(segment(), slot=900).beat("open").span == Span(
        0, planned(segment(), slot=900).beat("open").span.frames
    )


def test_a_title_without_a_hold_stays_until_it_is_read():
    board = clean()
    board["segment"]["item"] = "One fault, one feel"
    board["segment"]["programme"] = "The Dune Course Hour"
    title = board["beats"][0]["show"][0]["title"]
    title.update(main="Hips toward the ball on the way down", sub="And what the lower back says to it")
    del title["hold"]
    made = context(board)
    card = next(card for card in made.plan.cards if card.kind == "title")
    assert card.words > 20
    assert made.plan.beats[0].least == card.enter_frames + frames_covering(reading_time(card.words), made.plan.rate)
    assert not [found for found in run_checks(made) if found.id == "card-too-short"]
