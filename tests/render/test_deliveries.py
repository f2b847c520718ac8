"""One segment in several codings, as a render makes it: the same frames, a leader with its label, fields in order."""

from __future__ import annotations

from dataclasses import replace

import av
import numpy as np
import pytest

from segmentkit.errors import OutputFailed
from segmentkit.media.store import Store
from segmentkit.media.verify import read_back, stereo
from segmentkit.plan.leader import leader_plan
from segmentkit.plan.slate import Around
from segmentkit.render.movie import make_movie
from segmentkit.storyboard.leaders import Leader
from segmentkit.storyboard.profiles import delivery
from segmentkit.storyboard.reading import read_as
from segmentkit.timebase import Rate
from tests.render.movies import BOARD, checked

HOUSE = "what: x\nprogramme_at: '10:00:00:00'\ntone: -18 dBFS\nparts:\n  - {bars: 2s}\n  - {countdown: 3s}\ntail: 2s\n"


def made(segment, to, out, folder, around=None):
    return make_movie(
        segment.plan, segment.facts, segment.look, to, out, store=Store(folder / "store"),
        progress=lambda *_: None, around=around,
    )  # fmt: skip


def luma(path):
    """Luma of each frame as eight bits: float32, shape (frames, height, width)."""
    with av.open(str(path)) as container:
        return np.stack([
            frame.reformat(format="gray").to_ndarray().astype(np.float32) for frame in container.decode(video=0)
        ])  # fmt: skip


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plain")
    segment = checked(folder / "project")
    made(segment, delivery("web"), folder / "web.mp4", folder)
    return folder, segment, luma(folder / "web.mp4")


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["web-hevc", "web-vp9", "web-av1", "master-prores", "master-dnxhr", "master-dnxhr-mxf"]
)
def test_every_profile_shows_the_same_frames(plain, tmp_path, name):
    folder, segment, wanted = plain
    to = delivery(name)
    facts = made(segment, to, tmp_path / f"a{to.suffix}", folder)
    found = luma(tmp_path / f"a{to.suffix}")
    assert (facts.frames, facts.rate) == (segment.plan.frames, segment.plan.rate.fps)
    assert found.shape == wanted.shape
    # A frame too early or too late would show at every cut and in all that moves.
    assert np.abs(found - wanted).mean(axis=(1, 2)).max() < 2.5


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "order"), [("broadcast-25i", "top"), ("broadcast-25i", "bottom"), ("master-prores", "top")]
)
def test_interlaced_with_a_leader(tmp_path, name, order):
    segment = checked(tmp_path / "project", BOARD.replace("rate: 25", "rate: 50"))
    to = replace(delivery(name), size=None, rate=None, fields=order)
    own = Rate(segment.plan.rate.fps / 2)
    leader = leader_plan(read_as(Leader, HOUSE, "house.yaml"), segment.plan.frames // 2, own)
    out = tmp_path / f"a{to.suffix}"
    around = Around(leader=leader, rows=(("Programme", "Pieces"), ("Length", "00:00:12:00")))
    facts = made(segment, to, out, tmp_path, around)
    assert (facts.frames, facts.rate, facts.field_order) == (5 * 25 + 12 * 25 + 2 * 25, 25, order)
    assert facts.timecode == "09:59:55:00"
    assert (facts.programme.start, facts.running) == (125, 300)
    assert replace(read_back(out), loudness=facts.loudness, programme=facts.programme) == facts
    made(segment, delivery("web"), tmp_path / "web.mp4", tmp_path)
    whole, frames = luma(tmp_path / "web.mp4"), luma(out)[125:425]
    soft = np.pad(whole, ((0, 0), (1, 1), (0, 0)), mode="edge")
    soft = (soft[:, :-2] + 2 * whole + soft[:, 2:]) / 4
    first = {"top": 0, "bottom": 1}[order]
    for row, pictures in ((first, soft[0::2]), (1 - first, soft[1::2])):
        assert np.abs(frames[:, row::2] - pictures[:, row::2]).mean(axis=(1, 2)).max() < 2.5
    with av.open(str(out)) as container:
        heard = np.concatenate([stereo(frame) for frame in container.decode(audio=0)])
    assert len(heard) == facts.samples == 475 * 1920


@pytest.mark.slow
def test_a_moving_picture_for_mail_has_no_sound(plain, tmp_path):
    folder, segment, _ = plain
    facts = made(segment, replace(delivery("mail"), size=None, rate=None), tmp_path / "a.webp", folder)
    assert (facts.frames, facts.audio_codec, facts.video_codec) == (300, "none", "webp")


@pytest.mark.slow
def test_what_cannot_be_coded_is_refused_before_anything_is_drawn(plain, tmp_path):
    _, segment, _ = plain
    to = replace(delivery("master-prores"), container="mp4")
    with pytest.raises(OutputFailed, match="ProRes is not put into a mp4 file here"):
        made(segment, to, tmp_path / "a.mp4", tmp_path)
    assert list(tmp_path.iterdir()) == []
