"""From a storyboard to a finished file and back: every frame of the file is the source frame that the plan promised."""

import datetime
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from segmentkit.errors import NotFit
from segmentkit.media.stills import planes_to_rgb
from segmentkit.pipeline import check, render, save_still
from segmentkit.plan.model import ClipPicture, Plan
from segmentkit.render.picture import Composer
from tests.clips import Track, beep, beep_start, make_clip, read_number, steady

BOARD = """
segmentkit: 1
segment: {{title: Coded frames, slot: {slot}, rate: {rate}, size: 320x180}}
clips:
  coded: {{file: coded.mp4, positions: {{here: f40}}}}
beats:
  - beat: first
    show:
      - run: {{clip: coded, from: f10, to: f30, speed: 1/2}}
      - freeze: {{clip: coded, at: here, hold: 0.2s..9s}}
  - beat: second
    show:
      - run: {{clip: coded, from: f5, to: f60, speed: 1, sound: {sound}}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("coded")
    make_clip(place / "coded.mp4", steady(60, 2), tracks=[Track(samples=beep(2.0, [0.5]))])
    return place


def board(folder: Path, rate: str = "25", slot: str = "4s", sound: str = "no") -> Path:
    path = folder / f"board-{rate.replace('/', '-')}-{sound}.yaml"
    path.write_text(BOARD.format(rate=rate, slot=slot, sound=sound))
    return path


def promised(plan: Plan) -> list[int]:
    shown: list[int] = []
    for shot in plan.shots:
        picture = shot.panes[0].picture
        assert isinstance(picture, ClipPicture)
        shown.extend(picture.frames)
    return shown


def numbers(path: Path) -> list[int]:
    with av.open(str(path)) as container:
        return [read_number(frame.to_ndarray(format="rgb24")) for frame in container.decode(video=0)]


@pytest.mark.slow
@pytest.mark.parametrize("rate", ["25", "24000/1001", "30000/1001", "50", "60000/1001"])
def test_every_frame_of_the_file_is_the_source_frame_of_the_plan(folder: Path, tmp_path: Path, rate: str):
    made = render(board(folder, rate), tmp_path / "out.mp4")
    plan = made.checked.plan
    assert plan.frames == plan.slot == made.movie.frames
    assert made.movie.rate == plan.rate.fps
    assert numbers(made.movie.path) == promised(plan)
    assert abs(made.movie.samples - plan.frames * 48_000 / plan.rate.fps) <= 48_000 / plan.rate.fps
    assert made.movie.colour.count("bt709") == 3
    assert made.movie.chapters == 2


@pytest.mark.slow
def test_natural_sound_stays_with_its_picture(folder: Path, tmp_path: Path):
    made = render(board(folder, sound="yes"), tmp_path / "out.mp4")
    plan = made.checked.plan
    shot = plan.shots[-1]
    with av.open(str(made.movie.path)) as container:
        blocks = [frame.to_ndarray().T for frame in container.decode(audio=0)]
    # The beep lies at 0.5 s of the clip; the run starts with source frame 5, at 5/60 s.
    heard = Fraction(beep_start(np.concatenate(blocks))).limit_denominator(100_000)
    due = shot.span.start / plan.rate.fps + Fraction(1, 2) - Fraction(5, 60)
    assert abs(heard - due) < 1 / plan.rate.fps


def test_a_still_is_the_frame_that_goes_to_the_encoder(folder: Path, tmp_path: Path):
    checked = check(board(folder))
    for frame in (0, 20, 60, checked.plan.frames - 1):
        save_still(checked, frame, tmp_path / "still.png")
        with Composer(checked.plan, checked.facts, checked.look) as composer:
            assert read_number(composer.still(frame)) == promised(checked.plan)[frame]
    assert (tmp_path / "still.png").read_bytes().startswith(b"\x89PNG")


def test_a_frozen_picture_is_sent_once_and_held(folder: Path):
    checked = check(board(folder))
    freeze = checked.plan.shots[1]
    with Composer(checked.plan, checked.facts, checked.look) as composer:
        held = [picture for picture in composer.pictures() if picture.frame in freeze.span]
    assert [picture.repeat for picture in held] == [freeze.span.frames]


def test_nothing_is_rendered_of_a_person_whose_release_has_run_out(folder: Path, tmp_path: Path):
    path = folder / "people.yaml"
    text = BOARD.format(rate="25", slot="4s", sound="no").replace("positions:", "person: maren, positions:", 1)
    path.write_text(text + "people: {maren: {shown: Maren, adult: yes, release: {for: [web], until: 2026-01-31}}}\n")
    with pytest.raises(NotFit, match="release-expired"):
        render(path, tmp_path / "out.mp4", today=datetime.date(2026, 2, 1))
    assert list(tmp_path.iterdir()) == []
    assert check(path, today=datetime.date(2026, 1, 31)).fits


def test_a_slot_that_cannot_be_met_renders_nothing_and_says_by_how_much(folder: Path, tmp_path: Path):
    with pytest.raises(NotFit, match="slot-over"):
        render(board(folder, slot="1s"), tmp_path / "out.mp4")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("signal", ["TERM", "INT", "KILL"])
def test_a_stopped_render_leaves_nothing_under_the_final_name(folder: Path, tmp_path: Path, signal: str):
    path = board(folder, slot="9s", rate={"TERM": "48", "INT": "60", "KILL": "100"}[signal])  # nothing is ready yet
    path.write_text(path.read_text().replace("320x180", "1280x720"))  # long enough to be met while it works
    check(path)
    out = tmp_path / "out.mp4"
    command = [sys.executable, "-m", "segmentkit", "render", str(path), "--out", str(out)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    pieces = folder / ".segmentkit" / "pieces"
    while process.poll() is None and not list(pieces.rglob(".*.partial*")):
        time.sleep(0.01)
    subprocess.run(["kill", f"-{signal}", str(process.pid)], check=True)
    _, said = process.communicate(timeout=30)
    assert not out.exists()
    if signal != "KILL":
        assert process.returncode == 130
        assert b"nothing was left under a final name" in said
        assert list(tmp_path.iterdir()) == []
        assert list(pieces.rglob(".*.partial*")) == []


def test_planes_to_rgb_of_a_still_has_the_canvas_size(folder: Path):
    checked = check(board(folder))
    with Composer(checked.plan, checked.facts, checked.look) as composer:
        assert planes_to_rgb(composer.still(0)).shape == (180, 320, 3)
