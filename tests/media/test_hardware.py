"""Hardware encoders: tried before use, told in one line when they do not work, never needed."""

from __future__ import annotations

import av
import pytest
from click.testing import CliRunner

from segmentkit.cli.main import main
from segmentkit.media import hardware
from tests.render.movies import project


def test_an_encoder_that_is_not_there_says_why():
    assert hardware.unusable.__wrapped__("no_such_encoder")


def test_one_that_encodes_a_picture_is_usable(monkeypatch: pytest.MonkeyPatch):
    # The software encoder takes the part of a device that works.
    monkeypatch.setitem(hardware._QUALITY, hardware.SOFTWARE, "crf")
    assert hardware.unusable.__wrapped__(hardware.SOFTWARE) is None


@pytest.mark.slow
def test_a_render_goes_on_without_it_and_says_so(tmp_path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(hardware, "unusable", lambda encoder: f"no device for {encoder}")
    board = project(tmp_path)
    result = CliRunner().invoke(
        main, ["render", str(board), "--out", str(tmp_path / "a.mp4"), "--encoder", "h264_nvenc"], standalone_mode=False
    )
    assert result.exception is None, result.output
    assert "h264_nvenc — does not work here (no device for h264_nvenc) — the software encoder is used" in result.output
    with av.open(str(tmp_path / "a.mp4")) as container:
        assert container.streams.video[0].codec_context.name == "h264"
