"""What each encoded piece holds is noted when it is made, so that those of one person can be found."""

from __future__ import annotations

import pytest

from segmentkit.media.holds import Holding, marks_of, note, noted
from segmentkit.media.store import Store, sha256_of
from tests.render.movies import BOARD, checked, movie

NAMED = BOARD.replace("segment: {title", "people:\n  vera: {shown: Vera Lund, adult: yes}\nsegment: {title").replace(
    "      - freeze: {clip: coded, at: there, hold: 2.4s}\n",
    "      - freeze: {clip: coded, at: there, hold: 2.4s}\n"
    "    cards:\n      - label: {text: Thank you Vera Lund, at: 0s}\n",
)  # fmt: skip


def test_a_name_is_found_by_all_its_words_and_capitals_do_not_matter():
    held = Holding(contents=frozenset({"aa"}), marks=marks_of("Thank you, Vera LUND!", "and again"))
    assert held.shows([], ["vera lund"])
    assert held.shows(["aa"], [])
    assert not held.shows(["bb"], ["Vera Berg", ""])
    assert not any("vera" in mark for mark in held.marks)


def test_notes_are_written_once_and_a_torn_one_is_passed_over(tmp_path):
    store = Store(tmp_path)
    held = Holding(contents=frozenset({"aa"}), marks=frozenset())
    note(store, "movie.sha256", {"key": held})
    [(path, pieces)] = noted(tmp_path)
    assert list(pieces.values()) == [held]
    before = path.stat().st_mtime_ns
    note(store, "movie.sha256", {"key": held})
    assert path.stat().st_mtime_ns == before
    path.write_text(path.read_text()[:30])
    assert list(noted(tmp_path)) == []


@pytest.mark.slow
def test_every_piece_of_a_movie_is_noted_with_what_is_in_it(tmp_path):
    made = checked(tmp_path / "project", NAMED)
    movie(made, tmp_path / "out.mp4", tmp_path / "store")
    [(_, pieces)] = noted(tmp_path / "store")
    there = {path.name for path in (tmp_path / "store" / "pieces").rglob("*.mp4")}
    assert there == pieces.keys()
    clip, take = (sha256_of(tmp_path / "project" / name) for name in ("coded.mp4", "takes/first.wav"))
    with_clip = {name for name, held in pieces.items() if held.shows([clip], [])}
    assert 0 < len(with_clip) < len(pieces)  # the title shows no clip
    assert len([name for name, held in pieces.items() if held.shows([take], [])]) == 1  # the sound alone
    named = [held for held in pieces.values() if held.shows([], ["Vera Lund"])]
    assert len(named) == 1
    assert clip in named[0].contents


@pytest.mark.slow
def test_after_erasing_by_the_notes_only_what_showed_the_person_is_made_again(tmp_path):
    made = checked(tmp_path / "project", NAMED)
    movie(made, tmp_path / "out.mp4", tmp_path / "store")
    clip = sha256_of(tmp_path / "project" / "coded.mp4")
    [(_, pieces)] = noted(tmp_path / "store")
    gone = {name for name, held in pieces.items() if held.shows([clip], [])}
    kept = {}
    for path in (tmp_path / "store" / "pieces").rglob("*.mp4"):
        if path.name in gone:
            path.unlink()
        else:
            kept[path] = path.stat().st_mtime_ns, path.read_bytes()
    first = (tmp_path / "out.mp4").read_bytes()
    told = movie(made, tmp_path / "again.mp4", tmp_path / "store")
    assert any(step == "picture" for step, _, _ in told)
    assert (tmp_path / "again.mp4").read_bytes() == first
    assert all(path.read_bytes() == data for path, (_, data) in kept.items())
