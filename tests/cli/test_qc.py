"""`segmentkit qc`: with and without a storyboard, its exit codes, its page and its data."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner

from segmentkit.cli.main import main
from segmentkit.media import ffmpeg
from segmentkit.pipeline import check, render
from segmentkit.quality import examine, hand_over, planned_sound, private_words, programme_of, wanted_of
from segmentkit.storyboard.profiles import delivery
from tests import spoiled
from tests.clips import Track, make_clip, steady
from tests.spoiled import at_loudness, sound, write

BOARD = """
segmentkit: 1
segment: {title: Coded frames, slot: 6s, rate: 25, size: 640x360}
clips:
  swing: {file: swing.mp4, positions: {here: f40}}
beats:
  - beat: first
    show:
      - run: {clip: swing, from: f0, to: f60, speed: 1, sound: yes}
      - freeze: {clip: swing, at: here, hold: 1s..9s}
    cards:
      - information: {lines: [Keep your room], at: 1.8s, hold: 4s}
deliver: [web]
"""


def run(*arguments):
    result = CliRunner().invoke(main, ["qc", *map(str, arguments)], standalone_mode=False)
    assert result.exception is None, result.exception
    return result.return_value, result.stdout


def test_a_file_alone(tmp_path):
    movie = write(tmp_path / "lesson.mp4")
    code, text = run(movie)
    assert code == 0
    assert "there is no storyboard to compare with" in text
    page, data = tmp_path / "lesson.qc.html", tmp_path / "lesson.qc.json"
    assert page.read_text("utf-8").startswith("<!doctype html>")
    assert json.loads(data.read_text("utf-8"))["verdict"] == "pass"


@pytest.mark.slow
def test_a_file_against_a_profile_as_data(tmp_path):
    movie = write(tmp_path / "loud.mp4", heard=at_loudness(sound(), delivery("web").loudness + 1.5))
    code, text = run(movie, "--profile", "web", "--json", "-o", tmp_path / "page.html")
    data = json.loads(text)
    assert code == 1
    assert data["verdict"] == "fail"
    loud = next(one for one in data["checks"] if one["id"] == "qc-loudness")
    assert loud["outcome"] == "fail"
    assert loud["flags"][0]["numbers"]["target"] == delivery("web").loudness
    assert (tmp_path / "page.html").is_file()
    assert (tmp_path / "page.json").is_file()


@pytest.mark.slow
def test_captions_that_must_be_there(tmp_path):
    movie = write(tmp_path / "lesson.mp4")
    assert run(movie, "--captions")[0] == 1
    spoiled.write_captions(movie)
    assert run(movie, "--captions")[0] == 0


def test_no_such_file_and_no_movie(tmp_path):
    (tmp_path / "words.mp4").write_text("not a movie")
    for name in ("none.mp4", "words.mp4"):
        result = CliRunner().invoke(main, ["qc", str(tmp_path / name)], standalone_mode=False)
        assert type(result.exception).__name__ == "MediaUnusable"


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    folder = tmp_path_factory.mktemp("lesson")
    make_clip(
        folder / "swing.mp4", steady(25, 6), size=spoiled.SIZE, picture=spoiled.picture, tracks=[Track(samples=sound())]
    )
    board = folder / "lesson.yaml"
    board.write_text(BOARD)
    return board, render(board, folder / "out" / "lesson.mp4").movie.path


@pytest.mark.slow
def test_a_rendered_segment_passes_against_its_storyboard(rendered):
    board, movie = rendered
    code, text = run(movie, board, "--json")
    data = json.loads(text)
    found = {one["id"]: one for one in data["checks"]}
    failing = {id_: one["flags"] for id_, one in found.items() if one["outcome"] in {"fail", "warn"}}
    assert not failing
    assert code == 0
    assert [one["id"] for one in data["not_checked"]] == ["qc-captions"]
    assert abs(data["measured"]["sound_late_ms"]) < 1
    assert "planned freeze" in found["qc-frozen"]["value"]
    assert found["qc-text-seen"]["value"].startswith("1 of 1")


@pytest.mark.slow
def test_a_rendered_segment_that_was_tampered_with_fails(rendered, tmp_path):
    """Another program takes the colour of ten frames away to black, and shifts the sound by 100 ms."""
    board, movie = rendered
    spoilt = tmp_path / "lesson.mp4"
    ffmpeg.run([
        "-i", ffmpeg.named(movie), "-vf", "eq=brightness=-1:enable='between(n,20,29)'",
        "-af", "adelay=100:all=1,atrim=0:6",
        "-pix_fmt", "yuv420p", "-color_primaries", "bt709", "-color_trc", "bt709", "-colorspace", "bt709",
        "-color_range", "tv", "-map", "0:v", "-map", "0:a", ffmpeg.named(spoilt),
    ])  # fmt: skip
    code, text = run(spoilt, board, "--json")
    failing = {one["id"]: one for one in json.loads(text)["checks"] if one["outcome"] == "fail"}
    assert code == 1
    assert {"qc-black", "qc-sync"} <= set(failing)
    assert failing["qc-black"]["flags"][0]["first_frame"] == 20
    assert failing["qc-black"]["flags"][0]["frames"] == 10
    assert failing["qc-sync"]["flags"][0]["numbers"]["late_ms"] == pytest.approx(100, abs=1)


@pytest.mark.slow
def test_the_door_for_the_pipeline(rendered, tmp_path):
    """What the pipeline does after a file is whole and before it has its name."""
    board, movie = rendered
    checked = check(board)
    to = delivery("web", checked.loaded.folder)
    partial, final = tmp_path / ".partial.mp4", tmp_path / "lesson.mp4"
    partial.write_bytes(movie.read_bytes())
    wanted = wanted_of(checked.plan, checked.look, to, board=checked.loaded.board)
    examined = examine(
        partial, wanted, reference=planned_sound(checked.plan, checked.facts),
        programme=programme_of(checked.loaded.board, checked.plan, to), name=final,
    )  # fmt: skip
    out = hand_over(partial, final, checked.plan.title, examined)
    assert out.passed
    assert out.path == final
    assert out.entry["verdict"] == "pass"
    assert "lesson.mp4" in out.page.read_text("utf-8")
    assert ".partial" not in out.page.read_text("utf-8")


def test_private_words_are_those_of_this_machine_and_no_everyday_ones():
    words = [word for _, word in private_words()]
    assert "root" not in words
    assert all(len(word) >= 4 for word in words)


@pytest.mark.slow
def test_silence_has_no_loudness_to_judge(tmp_path):
    movie = write(tmp_path / "a.mp4", heard=np.zeros((288_000, 2), np.float32))
    _, text = run(movie, "--profile", "web", "--json")
    found = {one["id"]: one for one in json.loads(text)["checks"]}
    assert found["qc-loudness"]["outcome"] == "not checked"
    assert found["qc-loudness"]["because"] == "nothing passes the gate at -70 LUFS"
