"""`segmentkit preview` as a person uses it: parts, sizes, watching; and options that all verbs share."""

from __future__ import annotations

import signal
from pathlib import Path

import av
import click
import pytest
from click.testing import CliRunner

from segmentkit.cli import stopping
from segmentkit.cli.main import main
from tests.render.movies import project


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return project(tmp_path_factory.mktemp("project"))


def run(*arguments: object) -> str:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    return result.output


def frames(path: Path) -> int:
    with av.open(str(path)) as container:
        return sum(1 for _ in container.decode(video=0))


def test_a_beat_and_a_part_are_rendered_at_a_low_size(board: Path, tmp_path: Path):
    said = run("preview", board, "--beat", "second", "-o", tmp_path / "a.mp4", "--size", "160x90")
    assert "00:00:08:16 to 00:00:11:01, 160x90" in said
    assert frames(tmp_path / "a.mp4") == 60
    run("preview", board, "--from", "3s", "--to", "f100", "-o", tmp_path / "b.mp4")
    assert frames(tmp_path / "b.mp4") == 25


@pytest.mark.parametrize(("options", "text"), [
    (("--beat", "impact"), "'impact' is no beat — title, first, second, third are"),
    (("--beat", "first", "--from", "1s"), "give one of them"),
    (("--from", "4s", "--to", "3s"), "the start comes before the end"),
    (("--to", "soon"), "soon"),
    (("--size", "160x120"), "has not the shape of 320x180"),
    (("--size", "large"), "is not a size"),
])  # fmt: skip
def test_a_part_that_does_not_exist_is_named(board: Path, options: tuple[str, ...], text: str):
    with pytest.raises(click.UsageError) as error:
        run("preview", board, *options)
    assert text in error.value.format_message()


@pytest.mark.slow
def test_the_store_that_is_named_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("SEGMENTKIT_STORE", "")
    monkeypatch.setenv("SEGMENTKIT_STORE_LIMIT", "")
    path = project(tmp_path / "project")
    store = tmp_path / "season"
    run("--store", store, "--store-limit", "0", "preview", path, "--beat", "title", "-o", tmp_path / "a.mp4")
    assert (store / "clip").is_dir()
    assert list((store / "pieces").rglob("*.mp4")) == []
    assert not (path.parent / ".segmentkit").exists()


def test_a_request_to_stop_that_a_library_swallowed_is_heeded_at_the_next_step(monkeypatch: pytest.MonkeyPatch):
    kept = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        stopping.listen()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGTERM)
        with pytest.raises(KeyboardInterrupt):
            stopping.heed()
        stopping.listen()
        stopping.heed()
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)
