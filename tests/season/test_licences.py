"""Licences over a season: what is aired after their end is not made, what has ended is taken away and listed."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

from segmentkit.cli.main import run
from segmentkit.season.journal import Journal, Line, Made
from segmentkit.season.licences import licence_ends
from segmentkit.storyboard.season import load_season
from tests.season import rows

DAY = datetime.date


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """Four items, aired from 2 April on; two share a piece of music, one has another."""
    path = rows.rows(tmp_path)
    for id_, licence in (
        ("s0", "{for: [web], by: Marram Sound, reference: MS-12, territory: Northern Europe, until: 2028-04-02}"),
        ("s1", "{for: [web], by: Marram Sound, reference: MS-12, territory: Northern Europe, until: 2028-04-02}"),
        ("s2", "{for: [broadcast], by: Marram Sound}"),
    ):
        board = tmp_path / id_ / "storyboard.yaml"
        board.write_text(f"{board.read_text()}music: [{{file: bed.wav, title: Marram, licence: {licence}}}]\n")
    return path


def test_what_would_be_aired_after_the_end_is_not_made_and_what_is_there_stays(season: Path):
    made = {entry.id: entry.refused for entry in rows.entries(season)}
    assert made["s0"] is None  # aired on the last day
    assert made["s3"] is None
    late, scope = made["s1"], made["s2"]
    assert late is not None
    assert (late.id, late.consent) == ("licence-expired", False)
    assert late.what.startswith("on the day of airing: the licence from Marram Sound (MS-12) for Marram ended on")
    assert scope is not None
    assert (scope.id, scope.consent) == ("licence-scope", True)


def test_a_licence_that_has_ended_takes_away_what_was_made(season: Path):
    made = {entry.id: entry for entry in rows.entries(season, today=DAY(2028, 4, 3))}
    assert made["s0"].refused is not None
    assert (made["s0"].refused.id, made["s0"].refused.consent) == ("licence-expired", True)


def test_licences_are_listed_with_their_items_and_due_while_files_lie_there(season: Path, capsys):
    out = season.parent / "out"
    first, second = licence_ends(load_season(season), out)
    assert (first.items, first.until, first.out, second.until) == (("s0", "s1"), DAY(2028, 4, 2), (), None)
    assert str(first) == "Marram: the licence from Marram Sound (MS-12), Northern Europe, in s0, s1"
    assert not first.due(DAY(2029, 1, 1))
    (out / "s1").mkdir(parents=True)
    (out / "s1" / "s1-web.mp4").write_bytes(b"abc")
    with Journal(out) as journal:
        journal.write(Line(item="s1", state="done", files=(Made(file="s1-web.mp4", sha256="", bytes=3),)))
    (first, _) = licence_ends(load_season(season), out)
    assert first.out == ("s1",)
    assert (first.due(DAY(2028, 4, 2)), first.due(DAY(2028, 4, 3))) == (False, True)
    for today, code, state in (("2028-04-02", 0, "kept"), ("2028-04-03", 1, "due ")):
        with pytest.raises(SystemExit) as stopped:
            run(["keep", str(season), "--today", today, "--unused", "3650"])
        told = capsys.readouterr()
        assert stopped.value.code == code
        assert f"2028-04-02  {state}  {first}" in told.out
    assert "segmentkit batch" in told.err
    with pytest.raises(SystemExit):
        run(["keep", str(season), "--today", "2028-04-03", "--json"])
    data = [one for one in json.loads(capsys.readouterr().out) if "licence" in one]
    assert [(one["reference"], one["until"], one["due"], one["items"]) for one in data] == [
        ("MS-12", "2028-04-02", True, ["s0", "s1"]), ("", None, False, ["s2"]),
    ]  # fmt: skip
