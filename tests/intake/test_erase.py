"""Erasing finds everything of a person and nothing of anybody else; a dry run touches nothing."""

from __future__ import annotations

import json

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.erase import remove, traces
from segmentkit.media.guarded import header_entry, still_entry
from segmentkit.media.normalise import copy_entry
from segmentkit.media.store import FOLDER, Store, sha256_of
from segmentkit.storyboard.submission import load_batch
from tests.makers import LESSON

BATCH = """\
intake: 1
people:
  vera: {shown: Vera Lund, adult: yes, release: {for: [web]}}
  marta: {shown: Marta, adult: yes, release: {for: [web]}}
submissions:
  s-1: {person: marta, down-the-line: {file: in/m.mp4}, portrait: {file: in/m.jpg}}
  s-2: {person: vera, down-the-line: {file: in/v.mp4}}
"""


def put(path, text="x"):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


@pytest.fixture
def project(tmp_path):
    root = tmp_path / "project"
    put(root / "submissions.yaml", BATCH)
    put(root / "contacts.yaml", "contacts:\n  vera:\n    name: V\n  marta:\n    name: M\n    email: m@mail.example\n")
    for name in ("m.mp4", "m.jpg", "v.mp4"):
        put(root / "in" / name, f"bytes of {name}")
    put(root / "elsewhere" / "renamed.mov", "bytes of m.mp4")
    put(root / "segments" / "lesson.yaml", LESSON)
    put(root / "segments" / "clips" / "marta-dtl.mp4", "another clip of marta")
    put(root / "segments" / "clips" / "ines-dtl.mp4", "a clip of ines")
    for name in ("lesson.mp4", "lesson.manifest.json", "lesson-short.mp4", "lesson/take-home.pdf"):
        put(root / "segments" / "out" / name)
    put(root / "segments" / "review" / "lesson" / "v1.png")
    content = sha256_of(root / "in" / "m.mp4")
    made = {"tool": "segmentkit 1", "title": "Old", "file": "old.mp4", "people": ["marta"], "sources": []}
    put(root / "old" / "old.manifest.json", json.dumps(made))
    put(root / "old" / "old.mp4")
    made = {"tool": "segmentkit 1", "title": "Older", "files": [{"file": "a.mp4"}], "sources": [{"sha256": content}]}
    put(root / "older" / "list.json", json.dumps(made))
    put(root / "older" / "a.mp4")
    made = {"tool": "segmentkit 1", "title": "Of others", "file": "../../in/v.mp4", "people": ["vera"]}
    put(root / "others" / "others.manifest.json", json.dumps(made))
    put(root / "others" / "others.mp4")
    store = Store(root / FOLDER)
    for name in ("m.mp4", "v.mp4", "m.jpg"):
        content = sha256_of(root / "in" / name)
        put(copy_entry(content, store))
        put(copy_entry(content, store).with_suffix(".mp4"))
        put(copy_entry(content, store).with_suffix(".wav"))
        put(header_entry(content, store))
        put(still_entry(content, store))
    put(root / FOLDER / "scene" / "ab" / "ab.json")
    put(root / FOLDER / "guide" / "ab" / "ab.wav")
    put(root / "letters" / "s-1.received.txt")
    put(root / "letters" / "s-2.received.txt")
    put(root / "intake" / "intake.json", '{"submissions": [{"submission": "s-1"}]}')
    put(root / "intake" / "intake.csv", "s-2,use\r\n")
    return root


def state(root):
    return {path.relative_to(root).as_posix(): path.read_text() for path in root.rglob("*") if path.is_file()}


def test_a_dry_run_touches_nothing(project):
    before = state(project)
    assert len(traces("marta", project)) > 20
    assert state(project) == before


def test_everything_of_the_person_goes_and_nothing_of_others(project):
    before = state(project)
    mine, theirs = (sha256_of(project / "in" / name) for name in ("m.mp4", "v.mp4"))
    left = remove(traces("marta", project))
    after = state(project)
    gone = before.keys() - after.keys()
    for path in (
        "in/m.mp4", "in/m.jpg", "elsewhere/renamed.mov", "segments/clips/marta-dtl.mp4", "letters/s-1.received.txt",
        "intake/intake.json", "old/old.mp4", "old/old.manifest.json", "older/a.mp4", "older/list.json",
        "segments/out/lesson.mp4", "segments/out/lesson-short.mp4", "segments/out/lesson.manifest.json",
        "segments/out/lesson/take-home.pdf", "segments/review/lesson/v1.png", f"{FOLDER}/scene/ab/ab.json",
    ):  # fmt: skip
        assert path in gone, path
    store = Store(project / FOLDER)
    assert not copy_entry(mine, store).with_suffix(".mp4").exists()
    assert copy_entry(theirs, store).with_suffix(".mp4").exists()
    for path in (
        "in/v.mp4", "letters/s-2.received.txt", "intake/intake.csv", "others/others.mp4", "others/others.manifest.json",
        "segments/clips/ines-dtl.mp4", f"{FOLDER}/guide/ab/ab.wav",
    ):  # fmt: skip
        assert path in after, path
    assert list(load_batch(project).batch.submissions) == ["s-2"]
    assert list(load_batch(project).batch.people) == ["vera"]
    assert "mail.example" not in after["contacts.yaml"]
    assert [trace.path.name for trace in left] == ["lesson.yaml"]
    lines = LESSON.splitlines()
    assert left[0].lines
    assert all("marta" in lines[number - 1] for number in left[0].lines)


def test_nobody_of_that_name_is_told_with_the_names_there_are(project):
    with pytest.raises(StoryboardUnreadable, match="people are called ines, marta, vera"):
        traces("martha", project)


def test_a_manifest_cannot_point_outside_its_folder(project):
    put(project / "bad" / "m.json", json.dumps({"tool": "x", "title": "t", "file": "../in/v.mp4", "people": ["marta"]}))
    assert project / "in" / "v.mp4" not in {trace.path.resolve() for trace in traces("marta", project)}


def test_links_are_not_followed(project, tmp_path):
    outside = put(tmp_path / "outside.mp4", "bytes of m.mp4")
    (project / "link.mp4").symlink_to(outside)
    remove(traces("marta", project))
    assert outside.exists()
