"""The shipped templates: sound for every fault preset, honest in every alternative, and clean with their examples."""

from __future__ import annotations

import datetime
import json
import re
import shutil
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from segmentkit.checks.phrases import FORBIDDEN, SIDES, UNMEASURABLE, matches
from segmentkit.findings import Severity
from segmentkit.pipeline import check
from segmentkit.resources import templates_folder
from segmentkit.storyboard.blanks import BlankKind
from segmentkit.storyboard.explain import keys_of
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.places import CHOOSE, JOIN, WHEN
from segmentkit.storyboard.presets import load_preset, shipped_presets
from segmentkit.storyboard.reference import SECTIONS
from segmentkit.storyboard.template import fill, loads_template, read_values, template_names
from segmentkit.storyboard.template_page import EXAMPLE, PAGE, explained, segments_page
from segmentkit.timebase import seconds_of
from tests.storyboard.templates import load, values_for

EXAMPLES = templates_folder() / "segments" / "examples"
DEMO = Path(__file__).parents[2] / "demo_project"
LENGTHS = {"call": 20, "follow_up": 120, "montage": 30, "review": 180, "review_full": 420, "short": 40}
WITH_FAULT = [name for name in LENGTHS if "fault" in load(name).blanks]


def board_of(name: str, preset: str, **more: Any) -> Storyboard:
    return loads(fill(load(name), values_for(name, preset, **more), Path())).board


@cache
def told(name: str, preset: str) -> Storyboard:
    """A shipped template filled with a preset, once for all tests."""
    return board_of(name, preset)


def spoken(board: Storyboard) -> str:
    return " ".join(line.text for beat in board.beats for line in beat.say)


@pytest.mark.parametrize("name", LENGTHS)
def test_each_has_an_example_and_its_length(name: str):
    template = load(name)
    board = loads(fill(template, read_values(EXAMPLES / f"{name}.yaml"), Path())).board
    assert seconds_of(board.segment.slot, board.segment.rate) == Fraction(LENGTHS[name])
    assert set(template_names()) == set(LENGTHS) == {path.stem for path in EXAMPLES.glob("*.yaml")}


@pytest.mark.parametrize("preset", shipped_presets())
@pytest.mark.parametrize("name", WITH_FAULT)
def test_every_fault_can_be_told(name: str, preset: str):
    board = told(name, preset)
    known = load_preset(preset, Path())
    drawn = {id_ for beat in board.beats for id_ in beat.strokes}
    assert drawn == set(known.ids)
    # Each stroke starts on a word of its own.
    for beat in board.beats:
        assert set(beat.strokes) == {mark.id for line in beat.say for mark in line.marks}
    # What the preset's own list forbids is said nowhere, and its feel or its words are.
    words = spoken(board)
    assert not [phrase for phrase in known.never if re.search(rf"\b{re.escape(phrase)}\b", words, re.IGNORECASE)]
    assert known.say[0].rstrip(".") in words


@pytest.mark.parametrize("name", LENGTHS)
def test_no_alternative_says_what_one_camera_cannot_know(name: str):
    template = load(name)
    texts = [text for blank in template.blanks.values() for text in (blank.of or {}).values()]
    for preset in shipped_presets() if name in WITH_FAULT else ("sway",):
        texts.append(spoken(told(name, preset)))
    for text in texts:
        assert not list(matches((*FORBIDDEN, *UNMEASURABLE), text))
        assert not SIDES.search(text)
        longest = max((len(one.split()) for one in re.split(r"[.!?:;]", text)), default=0)
        assert longest <= 24


@pytest.mark.parametrize("name", LENGTHS)
def test_every_alternative_can_be_chosen(name: str):
    choices = {
        blank_name: [*(blank.of or {}), *(["In words of my own."] if blank.own else [])]
        for blank_name, blank in load(name).blanks.items()
        if blank.kind is BlankKind.CHOICE
    }
    # The first of each at once, then the second of each, until every one has been chosen.
    for turn in range(max((len(found) for found in choices.values()), default=0)):
        chosen = {blank: found[turn % len(found)] for blank, found in choices.items()}
        assert fill(load(name), values_for(name, "sway", **chosen), Path())


@pytest.mark.parametrize("name", ["follow_up", "review", "review_full", "short"])
def test_a_model_from_the_other_side_is_mirrored_wherever_it_is_seen(name: str):
    for mirrored in (True, False):
        board = board_of(name, "sway", mirrored="yes" if mirrored else "no")
        panes = []
        for shot in (shot for beat in board.beats for shot in beat.show):
            sides = [side for _, side in shot.comparison.sides] if shot.comparison is not None else []
            panes += [pane for pane in (shot.run, shot.freeze, *sides) if pane is not None]
        models = [pane for pane in panes if pane.clip.startswith("model")]
        assert models
        assert all(pane.mirror is mirrored for pane in models)
        assert not any(pane.mirror for pane in panes if not pane.clip.startswith("model"))


def test_cautions_stand_wherever_something_is_to_be_tried():
    for name in WITH_FAULT:
        board = told(name, "sway")
        drills = [card.drill for beat in board.beats for card in beat.cards if card.drill is not None]
        assert [drill.safety for drill in drills] == ["No club near the chair"]
        assert all(beat.rigid for beat in board.beats if any(card.drill or card.caution for card in beat.cards))
        ends = [shot.end_board for beat in board.beats for shot in beat.show if shot.end_board is not None]
        assert any("anything hurts" in line or "it hurts" in line for end in ends for line in end.lines)


def test_a_review_works_in_another_craft(tmp_path: Path):
    # Positions, points and the preset are a potter's own; the view is the one word that is not free.
    (tmp_path / "faults").mkdir()
    (tmp_path / "faults" / "wall_leans.yaml").write_text(
        "name: The wall leans\nwhat: The wall of the pot leans outward.\nview: [close-up]\nyaw: 20\n"
        "points:\n  centred: {foot: the foot of the pot}\n  pulled: {rim: the rim}\n"
        "strokes:\n  centred: {upright: {line: [centred.foot, [0.5, 0.2]], role: reference}}\n"
        "  pulled: {rim_out: {arrow: [[0.5, 0.2], pulled.rim], role: fault}}\n"
        "say: [The rim is outside the line in this picture., The wall looks to lean.]\nnot_to_say: [How thick it is.]\n"
        "feel: Let both hands rise at one speed.\n"
        "drill: {name: Cylinder drill, count: 5 small cylinders, safety: Wipe up water first}\n"
    )
    clip = {
        "view": "close-up", "positions": {"centred": "1s", "pulled": "9s", "done": "12s"},
        "points": {"centred": {"foot": ["0.5", "0.8"]}, "pulled": {"rim": ["0.6", "0.2"]}},
    }  # fmt: skip
    values = values_for(
        "review", "sway", fault="wall_leans", viewer_swing={"file": "a.mp4", **clip},
        model_swing={"file": "b.mp4", **clip}, action="throw", start_at="centred", end_at="done", matched="no",
    )  # fmt: skip
    board = loads(fill(load("review"), values, tmp_path), folder=tmp_path).board
    words = spoken(board)
    assert "Let's look at your throw." in words
    assert not re.search(r"\b(?:swing|ball|golf|club)\b", words, re.IGNORECASE)
    assert {id_ for beat in board.beats for id_ in beat.strokes} == {"upright", "rim_out"}


def test_the_page_in_templates_is_current():
    kept = templates_folder() / PAGE
    assert kept.is_file(), f"templates/{PAGE} is missing: run `segmentkit schema --write`"
    assert kept.read_text("utf-8") == segments_page(), (
        f"templates/{PAGE} is not current: run `segmentkit schema --write`"
    )


def test_the_page_names_every_blank_and_its_example_is_a_template():
    page = segments_page()
    for name in template_names():
        assert f"\n## {name}\n" in page
        for blank in load(name).blanks:
            assert f"| `{blank}` |" in page
            assert f"{blank} (" in explained(load(name))
    assert set(loads_template(EXAMPLE).blanks) == {"viewer", "swing", "miss", "wish"}
    assert EXAMPLE in page


def test_words_of_templates_are_no_keys_of_a_storyboard():
    keys = {key for _, _, models in SECTIONS for model in models for key in keys_of(model)}
    assert keys.isdisjoint({WHEN, CHOOSE, JOIN})


def filmed(clip: str, preset: str) -> dict[str, Any]:
    """A clip of the demo with the points a preset asks for, from what the program that drew it wrote down."""
    data = json.loads((DEMO / "clips" / f"{clip}.truth.json").read_text("utf-8"))
    called = {"hip_back": "belt_back", "spine_high": "neck", "grip": "grip_end", "clubhead": "club_head"}
    called |= {"heel": "trail_heel", "chin": "head"}

    def spot(position: str, name: str) -> list[str]:
        at = 2 * data["joints"].index(called.get(name, name))
        x, y = data["frames"][data["events"][position]][at : at + 2]
        return [f"{x / data['width']:.4f}", f"{y / data['height']:.4f}"]

    wanted = {"address": dict.fromkeys(("heel", "belt"))}
    for position, names in load_preset(preset, Path()).points.items():
        wanted[position] = wanted.get(position, {}) | dict.fromkeys(names)
    return {
        "file": f"clips/{clip}.mp4", "camera": {"yaw": "0", "within": "1"},
        "positions": {name: f"f{frame}" for name, frame in data["events"].items()},
        "points": {at: {name: spot(at, name) for name in names} for at, names in wanted.items()},
    }  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("preset", ["sway", "over_the_top", "across_at_top", "flying_trail_elbow"])
def test_other_faults_are_checked_without_error_or_warning(
    preset: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("SEGMENTKIT_STORE", str(DEMO / ".segmentkit"))
    (tmp_path / "takes").mkdir()
    for folder in ("clips", "music"):
        shutil.copytree(DEMO / folder, tmp_path / folder)
    view = load_preset(preset, Path()).view[0].value
    short = {"down-the-line": "dtl", "face-on": "face-on"}[view]
    values = dict(read_values(EXAMPLES / "review.yaml")) | {"fault": preset}
    for blank, clip in (("viewer_swing", f"viewer-{short}"), ("model_swing", f"model-{short}")):
        values[blank] = filmed(clip, preset) | {"view": view}
    for spoken_of in ("drill_film", "drill_words"):  # those of the example show another drill
        del values[spoken_of]
    path = tmp_path / "storyboard.yaml"
    path.write_text(fill(load("review"), values, tmp_path))
    checked = check(path, today=datetime.date(2027, 3, 1))
    assert [(f.id, f.where, f.what) for f in checked.findings if f.severity is not Severity.NOTE] == []
    assert checked.plan.frames == checked.plan.slot == 4500


@pytest.mark.slow
@pytest.mark.parametrize("name", LENGTHS)
def test_each_example_is_checked_without_error_or_warning(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    # Working copies are kept where the demo keeps them: they are the same clips.
    monkeypatch.setenv("SEGMENTKIT_STORE", str(DEMO / ".segmentkit"))
    for folder in ("clips", "music"):
        shutil.copytree(DEMO / folder, tmp_path / folder)
    (tmp_path / "takes").mkdir()
    path = tmp_path / "storyboard.yaml"
    path.write_text(fill(load(name), read_values(EXAMPLES / f"{name}.yaml"), tmp_path))
    checked = check(path, today=datetime.date(2027, 3, 1))
    heavy = [(f.id, f.where, f.what) for f in checked.findings if f.severity is not Severity.NOTE]
    assert heavy == []
    assert checked.plan.frames == checked.plan.slot == LENGTHS[name] * 25
