"""The templates speak no golf of their own: a potter's submission goes from `new` to a check without fault."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import yaml

from segmentkit.cli.main import run
from segmentkit.findings import Severity
from segmentkit.geometry import Size
from segmentkit.pipeline import check
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.template import fill, load_template, read_values
from tests.clips import Picture, make_clip, steady

SIZE = Size(1280, 720)
FAULT = """\
name: The elbow leaves the knee
what: While the clay is pressed, the elbow rises from the place by the knee that it had at the start.
view: [face-on]
yaw: 10
points:
  open_hand: {elbow: the point of the elbow, knee: the top of the knee}
  press: {elbow: the point of the elbow}
derived:
  press: {rest: {x: press.elbow, y: open_hand.elbow}}
strokes:
  open_hand: {anchor_line: {line: [open_hand.elbow, open_hand.knee], role: reference}}
  press: {elbow_gap: {double_arrow: [press.rest, press.elbow], role: fault}}
say:
  - Here the elbow has come up from the knee in this picture.
  - The hand has only the arm to hold it now.
not_to_say: [How hard the hand presses.]
never: [pressure, force of]
feel: Let the elbow sink onto the knee, as if it were tied there.
drill:
  name: Elbow on the knee
  count: 5 small balls of clay, no pot
  safety: Slow wheel, nails short
  line: Stop if your wrist hurts
"""
WORDS = ("swing", "golf", "tee ", "practice tee", "ball lands", "address", "impact")
"""What a potter would not say; the fault presets of the house are golf and stay so."""


def potter(lean: int) -> Any:
    """A potter at the wheel, drawn; the elbow leaves the knee by so many pixels while the clay is pressed."""

    def picture(k: int) -> Picture:
        made = np.full((SIZE.height, SIZE.width, 3), (196, 188, 172), np.uint8)
        made[560:] = (120, 104, 88)
        pressed, lifted = min(1.0, max(0.0, (k - 25) / 40)), min(1.0, max(0.0, (k - 110) / 50))
        tall, wide = round(150 - 60 * pressed + 80 * lifted), round(90 - 25 * lifted)
        cv2.ellipse(made, (760, 560), (150, 26), 0, 0, 360, (90, 90, 96), -1)
        cv2.rectangle(made, (760 - wide, 560 - tall), (760 + wide, 560), (146, 84, 56), -1)
        for y in range(560 - tall, 560, 14):
            x = round(760 + wide * np.sin(k * 0.35 + y / 40))
            cv2.line(made, (x, y), (x, y + 8), (180, 120, 90), 4)
        elbow = (560, round(470 - lean * pressed))
        cv2.line(made, (430, 260), elbow, (70, 90, 120), 46)
        cv2.line(made, elbow, (760 - wide, 580 - tall), (200, 160, 130), 34)
        cv2.ellipse(made, (400, 400), (90, 190), 0, 0, 360, (70, 90, 120), -1)
        cv2.circle(made, (420, 170), 60, (200, 160, 130), -1)
        cv2.line(made, (410, 560), (580, 500), (60, 60, 80), 70)
        return made

    return picture


def clip(name: str, lean: int) -> dict[str, Any]:
    def point(x: int, y: int) -> list[float]:
        return [round(x / SIZE.width, 4), round(y / SIZE.height, 4)]

    return {
        "file": f"clips/{name}.mp4", "view": "face-on", "camera": {"yaw": 0}, "focus": [0.5, 0.57],
        "positions": {"open_hand": "f20", "press": "f70", "lift": "f160"},
        "points": {
            "open_hand": {"elbow": point(560, 470), "knee": point(580, 500)},
            "press": {"elbow": point(560, 470 - lean)},
        },
    }  # fmt: skip


def person(shown: str) -> dict[str, Any]:
    return {"shown": shown, "adult": "yes", "release": {"for": ["web", "short", "marketing"], "by": shown}}


HOUSE = {"programme": "The Clay Hour", "send_to": "clay-hour.example"}
MOVES = {"start_at": "open_hand", "end_at": "lift", "action": "throw"}
PEOPLE = {"viewer": person("Liv"), "model": person("Our potter")}
VALUES: dict[str, dict[str, Any]] = {
    "review": {
        **PEOPLE, **HOUSE, **MOVES, "viewer_swing": clip("liv", 70), "model_swing": clip("potter", 0),
        "fault": "elbow_floats", "question": "Why does my clay wobble?", "title": "The elbow leaves the knee",
        "answer": "The wobble starts in the arm, so give the arm a place to rest.", "key_1": "Elbow on the knee",
        "key_2": "Slow wheel", "item": "At the Wheel", "matched": "no",
        "praise": "There's plenty to like here. The clay is well wedged, and nothing is hurried.",
    },
    "follow_up": {
        **PEOPLE, **HOUSE, **MOVES, "then": clip("liv", 70), "now": clip("now", 25), "model_swing": clip("potter", 0),
        "then_date": "2027-03-06", "now_date": "2027-06-14", "moment": "press", "topic": "Elbow on the knee",
        "matched": "no", "changed": "The elbow stays near the knee for longer than before.",
        "not_yet": "The lift still comes a little early. That takes longer, and it will come.",
        "next": "Keep the five small balls of clay, and let the wheel go slowly.",
    },
    "short": {
        **PEOPLE, "viewer_swing": clip("liv", 70), "model_swing": clip("potter", 0), "fault": "elbow_floats",
        "start_at": "open_hand", "stop_at": "press", "hook": "Wobbly clay?", "send_to": "clay-hour.example",
        "who": "There is plenty to like in how Liv sits, and still the clay runs away.",
    },
    "montage": {
        "first": person("Liv"), "first_swing": clip("liv", 70), "second": person("Our potter"),
        "second_swing": clip("potter", 0), "start_at": "open_hand", "end_at": "lift", "when_on": "Sundays at six",
        "line_1": "Some pots are old friends. Some are strangers.", "programme": "The Clay Hour",
    },
    "call": {
        "player": person("Our potter"), "behind": {"file": "clips/potter.mp4", "view": "down-the-line"},
        "front": {"file": "clips/potter.mp4"}, "action": "throw", "clear": "Nobody beside the wheel", **HOUSE,
    },
}  # fmt: skip


def project(folder: Path, template: str) -> Path:
    """Its values and its own fault, as a house would write them; the clips where they are asked for."""
    (folder / "faults").mkdir(parents=True)
    (folder / "faults" / "elbow_floats.yaml").write_text(FAULT)
    (folder / "values.yaml").write_text(yaml.safe_dump(VALUES[template], sort_keys=False))
    return folder


@pytest.mark.parametrize("template", VALUES)
def test_each_can_be_filled_for_a_potter_and_says_nothing_of_golf(template: str, tmp_path: Path):
    home = project(tmp_path / "pot", template)
    loaded = loads(fill(load_template(template), read_values(home / "values.yaml"), home), folder=home)
    texts = [line.text for beat in loaded.board.beats for line in beat.say]
    texts += [loaded.board.segment.title, loaded.board.segment.programme or ""]
    for beat in loaded.board.beats:
        texts += [str(card) for card in beat.cards]
        texts += [str(shot.end_board or shot.title or "") for shot in beat.show]
    said = " ".join(texts).lower()
    assert [word for word in WORDS if word in said] == []
    assert "throw" in said or "clay" in said or "pots" in said


@pytest.mark.slow
@pytest.mark.parametrize("template", ["review", "follow_up"])
def test_from_new_to_a_check_without_error_or_warning(
    template: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "store"))
    home = project(tmp_path / "pot", template)
    (home / "clips").mkdir()
    for name, lean in (("liv", 70), ("now", 25), ("potter", 0)):
        make_clip(home / "clips" / f"{name}.mp4", steady(50, 4), size=SIZE, picture=potter(lean))
    with pytest.raises(SystemExit) as ended:
        run(["new", template, str(home)])
    assert ended.value.code in {0, None}, capsys.readouterr()
    checked = check(home / "storyboard.yaml", today=datetime.date(2027, 7, 1))
    assert [(f.id, f.where, f.what) for f in checked.findings if f.severity is not Severity.NOTE] == []
    assert checked.plan.frames == checked.plan.slot
