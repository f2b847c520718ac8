"""What is kept of a look, and how the same pictures are found again among items."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from segmentkit.intake.fingerprint import Fingerprint
from segmentkit.media.store import Store
from segmentkit.season.entry import Entry, Why
from segmentkit.season.looks import entry_of, keep, kept, light, limited, repeats
from segmentkit.season.work import Looked
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.season import Item
from segmentkit.storyboard.submission import VerdictWord
from tests.season.rows import entries, rows


def prints(seed: int) -> Fingerprint:
    """A body that goes through places of its own at moments of its own."""
    chance = np.random.default_rng(seed)
    motion = np.zeros((180, 24, 24), np.float32)
    x = 4 + 16 * np.cumsum(chance.random(180)) / 90
    y = 12 + 8 * np.sin(np.cumsum(chance.random(180)) / 6)
    for k in range(30, 150):
        motion[k, int(y[k]) % 24, int(x[k]) % 24] = 60 * np.sin((k - 30) / 120 * np.pi)
    motion = motion + np.roll(motion, 1, 1) + np.roll(motion, 1, 2)
    ground = np.random.default_rng(0).normal(size=(16, 16)).astype(np.float32)  # all stand on one range
    ground -= ground.mean()
    ground /= np.linalg.norm(ground)
    return Fingerprint(ground=ground, motion=motion, energy=motion.mean(axis=(1, 2), dtype=np.float64))


def test_many_items_on_one_range_are_told_apart():
    """More than the table of backgrounds begins with."""
    chance = np.random.default_rng(5)
    looks = []
    for number in range(150):
        ground = chance.normal(size=(16, 16)).astype(np.float32)
        one = prints(1)
        looks.append(
            looked(
                f"i{number}", Fingerprint(ground=ground / np.linalg.norm(ground), motion=one.motion, energy=one.energy)
            )
        )
    looks.append(looked("last", looks[140][1].prints[0][1]))
    whole = {entry.id: one for entry, one in looks}
    found = repeats([(entry, light(one)) for entry, one in looks], whole.get)
    assert set(found) == {"last"}
    assert "item i140" in found["last"].what


def mirrored(one: Fingerprint) -> Fingerprint:
    return Fingerprint(ground=one.ground[:, ::-1], motion=one.motion[:, :, ::-1], energy=one.energy)


def looked(name: str, one: Fingerprint) -> tuple[Entry, Looked]:
    entry = Entry(item=Item(id=name, storyboard="x.yaml", received=datetime.date(2028, 1, 1)))
    return entry, Looked(id=name, prints=(("face-on", one),))


def test_the_same_pictures_are_found_again_and_a_second_swing_is_not():
    first = prints(1)
    noisy = Fingerprint(ground=first.ground, motion=first.motion * 0.9, energy=first.energy * 0.9)
    looks = [looked("a", first), looked("b", prints(2)), looked("c", noisy), looked("d", mirrored(prints(2)))]
    whole = {entry.id: one for entry, one in looks}
    found = repeats([(entry, light(one)) for entry, one in looks], whole.get)
    assert set(found) == {"c", "d"}
    assert "item a" in found["c"].what
    assert "item b, mirrored" in found["d"].what


def test_the_very_file_is_told_by_its_bytes(tmp_path):
    path = rows(tmp_path, count=3)
    (tmp_path / "in" / "s2" / "a.mp4").write_bytes(b"clip of Anna")
    made = [(entry, Looked(id=entry.id)) for entry in entries(path)]
    found = repeats(made, lambda _: None)
    assert {name: why.id for name, why in found.items()} == {"s2": "same-file"}


def test_what_was_seen_is_kept_and_read_again(tmp_path):
    entry, store, limits = entries(rows(tmp_path))[0], Store(tmp_path / "store"), intake_limits()
    path = entry_of(store, entry, limits)
    assert kept(path, entry.id) is None
    one = Looked(
        id=entry.id, word=VerdictWord.LIMITED, limits=(("down-the-line", "rate-low", "30 frames"),), face=b"jpeg",
        prints=(("down-the-line", prints(3)),), took=3.0,
    )  # fmt: skip
    keep(store, path, one, list(entry.contents.values()))
    again = kept(path, entry.id)
    assert (again.word, again.limits, again.face, again.why) == (one.word, one.limits, b"jpeg", None)
    np.testing.assert_allclose(again.prints[0][1].motion, prints(3).motion, rtol=1e-3)
    small = kept(path, entry.id, whole=False)
    assert small.prints[0][1].motion.size == 0
    np.testing.assert_array_equal(small.prints[0][1].ground, prints(3).ground)
    path.write_bytes(b"broken")
    assert kept(path, entry.id) is None


def test_a_look_that_may_go_better_is_not_kept(tmp_path):
    entry, store, limits = entries(rows(tmp_path))[0], Store(tmp_path / "store"), intake_limits()
    path = entry_of(store, entry, limits)
    keep(store, path, Looked(id=entry.id, why=Why(id="system", what="not now", passing=True)), [])
    assert kept(path, entry.id) is None


@pytest.mark.parametrize(
    ("reason", "expected"), [("rate-low", None), ("side-differs", "side-differs"), ("small", None)]
)  # fmt: skip
def test_limits_stop_what_they_forbid_until_a_person_has_looked(tmp_path, reason, expected):
    path = rows(tmp_path)
    entry = entries(path)[0]
    one = Looked(id=entry.id, limits=(("down-the-line", reason, "the clip: limits"),))
    why = limited(entry, one)
    assert (why.id if why else None) == expected  # the storyboard does not stop at impact
    record = tmp_path / "in" / "s0" / "submissions.yaml"
    text = record.read_text().replace("{file: a.mp4}", "{file: a.mp4}, decision: {verdict: use, by: Aksel}")
    record.write_text(text)
    assert limited(entries(path)[0], one) is None


def test_a_clip_of_thirty_frames_a_second_is_not_shown_at_impact(tmp_path):
    path = rows(tmp_path)
    board = tmp_path / "s0" / "storyboard.yaml"
    board.write_text(
        board.read_text().replace("file: swing.mp4,", "file: swing.mp4, positions: {impact: f20},")
        .replace("run: {clip: swing, speed: 1}", "freeze: {clip: swing, at: impact, hold: 2s}")
    )  # fmt: skip
    entry = entries(path)[0]
    why = limited(entry, Looked(id=entry.id, limits=(("down-the-line", "rate-low", "30 frames a second"),)))
    assert why.id == "rate-low"
    assert "leave it out" in why.what
