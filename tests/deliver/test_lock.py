from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from segmentkit.deliver.lock import inputs, lock, lock_facts, review_folder, unlock
from segmentkit.errors import SegmentkitError
from tests.deliver.boards import segment, with_sheet


def project(tmp_path: Path):
    """A segment whose takes and music are files."""
    board = with_sheet()
    board["music"] = [{"file": "bed.wav"}]
    (tmp_path / "bed.wav").write_bytes(b"bed")
    made = segment(board)
    loaded = replace(made.loaded, folder=tmp_path)
    take = tmp_path / "take.wav"
    take.write_bytes(b"take")
    readings = tuple(replace(reading, path=take) for reading in made.facts.readings)
    return tmp_path / "lesson.yaml", loaded, replace(made.facts, readings=readings)


def test_nothing_is_locked_at_first(tmp_path: Path):
    assert lock_facts(*project(tmp_path)) is None


def test_a_lock_holds_while_nothing_changes(tmp_path: Path):
    storyboard, loaded, facts = project(tmp_path)
    lock(storyboard, loaded, facts, version=3, by="A.B.", on="2026-11-25")
    held = lock_facts(storyboard, loaded, facts)
    assert held is not None
    assert (held.version, held.by, held.on, held.changed) == (3, "A.B.", "2026-11-25", ())


def test_a_comma_a_take_a_clip_and_music_break_it(tmp_path: Path):
    storyboard, loaded, facts = project(tmp_path)
    lock(storyboard, loaded, facts, version=1, by="A.B.", on="2026-11-25")
    comma = replace(loaded, text=loaded.text + ",")
    assert lock_facts(storyboard, comma, facts).changed == ("storyboard",)
    other = replace(facts, clips={**facts.clips, "viewer": replace(facts.clips["viewer"], content="1" * 64)})
    assert lock_facts(storyboard, loaded, other).changed == ("clip viewer",)
    less = replace(facts, clips={"viewer": facts.clips["viewer"]})
    assert lock_facts(storyboard, loaded, less).changed == ("clip model (gone)",)
    (tmp_path / "take.wav").write_bytes(b"another reading")
    assert lock_facts(storyboard, loaded, facts).changed == ("take take.wav",)
    (tmp_path / "bed.wav").write_bytes(b"another bed")
    assert lock_facts(storyboard, loaded, facts).changed == ("music bed.wav", "take take.wav")


def test_guide_voices_are_no_input(tmp_path: Path):
    _, loaded, facts = project(tmp_path)
    guide = replace(facts, readings=tuple(replace(one, is_guide=True) for one in facts.readings))
    assert not any(name.startswith("take") for name in inputs(loaded, guide))


def test_taking_it_off(tmp_path: Path):
    storyboard, loaded, facts = project(tmp_path)
    lock(storyboard, loaded, facts, version=1, by="A.B.", on="2026-11-25")
    assert unlock(storyboard)
    assert not unlock(storyboard)
    assert lock_facts(storyboard, loaded, facts) is None


def test_a_damaged_lock_does_not_pass_for_none(tmp_path: Path):
    storyboard, loaded, facts = project(tmp_path)
    target = lock(storyboard, loaded, facts, version=1, by="A.B.", on="2026-11-25")
    target.write_text("{}")
    with pytest.raises(SegmentkitError, match="the lock cannot be read"):
        lock_facts(storyboard, loaded, facts)


def test_storyboards_of_one_folder_have_reviews_of_their_own():
    assert review_folder(Path("a/one.yaml")) != review_folder(Path("a/two.yaml"))
