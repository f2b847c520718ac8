"""Fault presets: what they draw, when they are refused, and that their own words are honest."""

from pathlib import Path

import pytest

from segmentkit.checks.phrases import FORBIDDEN, UNMEASURABLE, matches
from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Point
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.presets import Preset, load_preset, preset_names, shipped_presets
from segmentkit.storyboard.reading import read_as

BOARD = """\
segmentkit: 1
segment: {title: Hips, slot: 0:30}
clips:
  swing:
    file: swing.mp4
    view: down-the-line
    positions: {address: f10, impact: f90}
    points:
      address: {hip_back: [0.41, 0.55], heel: [0.45, 0.86], belt: [0.45, 0.55], spine_high: [0.5, 0.4]}
      impact: {hip_back: [0.43, 0.58], belt: [0.47, 0.55], spine_high: [0.51, 0.39]}
beats:
  - beat: address
    fault: hips_toward_ball
    say: One [hip_line] line here.
    show: [{freeze: {clip: swing, at: address, hold: 6s}}]
  - beat: impact
    fault: hips_toward_ball
    keep: [hip_line]
    say: There is [hip_gap] daylight.
    show: [{freeze: {clip: swing, at: impact, hold: 6s}}]
"""


def beats(text, folder=Path()):
    return {beat.beat: beat for beat in loads(text, folder=folder).board.beats}


def test_a_beat_draws_what_belongs_to_the_position_it_freezes():
    made = beats(BOARD)
    assert list(made["address"].strokes) == ["hip_line", "spine_line"]
    assert list(made["impact"].strokes) == ["hip_gap", "spine_now"]
    assert made["impact"].strokes["hip_gap"].role.value == "fault"


def test_points_that_follow_from_others_are_worked_out():
    made = beats(BOARD)
    assert made["address"].strokes["hip_line"].line == (Point(0.41, 0.4), Point(0.41, 0.86))
    gap, hip = made["impact"].strokes["hip_gap"].double_arrow
    assert gap == Point(0.41, 0.58)
    assert str(hip) == "impact.hip_back"


def test_a_point_of_the_clips_own_comes_before_one_that_follows():
    made = beats(BOARD.replace("spine_high: [0.5, 0.4]}", "spine_high: [0.5, 0.4], hip_top: [0.4, 0.3]}"))
    assert str(made["address"].strokes["hip_line"].line[0]) == "address.hip_top"


def test_a_straight_line_is_carried_on_beyond_two_points():
    preset = load_preset("over_the_top", Path())
    spots = {"address": {"ball": Point(0.6, 0.9), "grip": Point(0.5, 0.7)}}
    assert preset.derived["address"]["shaft_end"].of(spots).x == pytest.approx(0.6 - 1.9 * 0.1)
    assert preset.derived["address"]["shaft_end"].of(spots).y == pytest.approx(0.9 - 1.9 * 0.2)


def test_a_stroke_of_the_beats_own_takes_the_place_of_the_presets():
    text = BOARD.replace(
        "    say: There is", "    strokes: {hip_gap: {ring: {centre: belt, radius: 0.1}}}\n    say: There is"
    )
    strokes = beats(text)["impact"].strokes
    assert strokes["hip_gap"].kind == "ring"
    assert list(strokes) == ["spine_now", "hip_gap"]


def test_one_beat_can_stand_alone_with_the_references_of_earlier_positions():
    first = BOARD.index("  - beat: address")
    alone = BOARD[:first] + BOARD[BOARD.index("  - beat: impact") :].replace("    keep: [hip_line]\n", "")
    assert list(beats(alone)["impact"].strokes) == ["hip_line", "spine_line", "hip_gap", "spine_now"]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("fault: hips_toward_ball\n    say: One", "fault: hips_toward_bal\n    say: One",
         r"storyboard.yaml:13:12: .*no fault preset `hips_toward_bal` — did you mean `hips_toward_ball`"),
        ("view: down-the-line", "view: face-on",
         r"storyboard.yaml:13:12: .*can be seen from down-the-line only, clip swing is filmed face-on"),
        ("hip_back: [0.43, 0.58], ", "",
         r"storyboard.yaml:17:12: .*needs 1 point that clip swing does not have: impact.hip_back \(the outermost"),
        ("at: impact, hold", "at: 1s, hold", r"storyboard.yaml:17:12: .*drawn on a frozen picture at address or"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused_at_its_place(old, new, message):
    assert old in BOARD
    with pytest.raises(StoryboardUnreadable, match=message):
        loads(BOARD.replace(old, new))


def test_a_preset_of_ones_own_comes_first(tmp_path):
    (tmp_path / "faults").mkdir()
    shipped = (Path(__file__).parents[2] / "templates/faults/hips_toward_ball.yaml").read_text("utf-8")
    (tmp_path / "faults/hips_toward_ball.yaml").write_text(shipped.replace("hip_gap:", "room:"), "utf-8")
    made = beats(BOARD.replace("[hip_gap]", "[room]"), tmp_path)
    assert "room" in made["impact"].strokes
    assert "hips_toward_ball" in preset_names(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("y: impact.hip_back}", "y: hip_back}", "is no point with its position"),
        ("y: impact.hip_back}", "y: impact.seat}", "impact.seat is not among the points"),
        ("[impact.gap_line, impact.hip_back]", "[impact.gap_line, impact.seat]", "nothing says where impact.seat is"),
        ("{x: address.hip_back, y: impact.hip_back}", "{x: address.hip_back}", "either x and y, or from"),
        ("yaw: 8", "yaw: steep", "yaw"),
        ("feel: As", "feels: As", "feels"),
    ],
)
def test_faults_of_a_preset_are_told(old, new, message):
    text = (Path(__file__).parents[2] / "templates/faults/hips_toward_ball.yaml").read_text("utf-8")
    assert old in text
    with pytest.raises(StoryboardUnreadable, match=message):
        read_as(Preset, text.replace(old, new), "own.yaml")


def test_there_are_enough_and_each_hangs_together():
    assert len(shipped_presets()) >= 10
    for name in shipped_presets():
        preset = load_preset(name, Path())
        assert preset.ids
        assert any(stroke.role.value == "fault" for drawn in preset.strokes.values() for stroke in drawn.values())


@pytest.mark.parametrize("name", shipped_presets())
def test_the_words_of_a_preset_pass_the_checks_of_honest_words(name):
    preset = load_preset(name, Path())
    texts = [preset.name, preset.what, preset.feel, *preset.say, preset.drill.name, preset.drill.count]
    for text in texts:
        assert not [said for _, said in matches((*FORBIDDEN, *UNMEASURABLE), text)], text
        assert not [word for word in preset.never if word.lower() in text.lower()]
        assert not {"left", "right"} & set(text.lower().replace(".", "").split())
    assert any(hedge in " ".join(preset.say) for hedge in ("in this picture", "looks", "look to", "likely"))


SPLIT = (
    BOARD
    + """\
  - beat: compare
    fault: hips_toward_ball
    keep: [hip_line]
    say: See the [hip_gap] daylight beside her.
    show:
      - split: {left: {clip: swing, at: impact}, right: {clip: model, at: impact}, hold: 6s}
"""
)
MODEL = """\
  model:
    file: model.mp4
    view: down-the-line
    positions: {address: f12, impact: f92}
    points:
      address: {hip_back: [0.39, 0.56], heel: [0.44, 0.89], belt: [0.44, 0.56], spine_high: [0.49, 0.42]}
beats:
"""


def test_in_a_comparison_each_side_is_drawn_from_its_own_address():
    made = beats(SPLIT.replace("beats:\n", MODEL))["compare"]
    # The viewer's hip line is kept; hers comes from her own points. The fault is drawn on the viewer's side alone.
    assert {id_: stroke.on for id_, stroke in made.strokes.items()} == {
        "spine_line": "left", "hip_gap": "left", "spine_now": "left",
        "hip_line_right": "right", "spine_line_right": "right",
    }  # fmt: skip
    assert made.strokes["hip_line_right"].line == (Point(0.39, pytest.approx(0.42)), Point(0.39, 0.89))
    gap, _ = made.strokes["hip_gap"].double_arrow
    assert gap == Point(0.41, 0.58)


def test_in_a_comparison_points_and_views_of_every_side_count():
    bare = MODEL.replace("hip_back: [0.39, 0.56], ", "")
    with pytest.raises(StoryboardUnreadable, match=r"clip model does not have: address.hip_back"):
        loads(SPLIT.replace("beats:\n", bare))
    aside = MODEL.replace("view: down-the-line", "view: face-on")
    with pytest.raises(StoryboardUnreadable, match="clip model is filmed face-on"):
        loads(SPLIT.replace("beats:\n", aside))


def test_a_stroke_of_ones_own_on_one_side_takes_the_presets_place_there():
    own = SPLIT.replace("beats:\n", MODEL).replace(
        "    say: See the [hip_gap]",
        "    strokes: {hip_line_right: {line: [[0.4, 0.4], [0.4, 0.9]], on: right}}\n    say: See the [hip_gap]",
    )
    strokes = beats(own)["compare"].strokes
    assert strokes["hip_line_right"].line[0] == Point(0.4, 0.4)
    assert "spine_line_right" in strokes
