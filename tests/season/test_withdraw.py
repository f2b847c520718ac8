"""Everything of one viewer is found across a season and goes; nothing of anybody else is touched."""

from __future__ import annotations

import datetime
import hashlib
import re
from pathlib import Path

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.media.pieces import KIND, RECIPE
from segmentkit.media.store import Store
from segmentkit.season import withdraw
from segmentkit.season.withdraw import carry_out, look_for, receipt
from segmentkit.storyboard.season import load_season
from tests.season.withdraw_case import PEOPLE, pictures, plant, put, state

TODAY = datetime.date(2026, 4, 8)
NAMES = re.compile(rb"vera|lund|s03", re.IGNORECASE)


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "season"
    plant(folder)
    return folder


def found(root, who="vera"):
    season = load_season(root / "season.yaml")
    return look_for(who, season, root / "out", TODAY)


def removed(root, who="vera"):
    seen = found(root, who)
    left = carry_out(seen.found, load_season(root / "season.yaml"), root / "out")
    return seen, left


def hashes(who):
    """Content hashes of everything planted that shows or is spoken by a person, computed here from the bytes alone."""
    what = ["clip", "face", "line 1", "line 2", "frozen"]
    return {hashlib.sha256(pictures(who, one)).hexdigest() for one in what}


def test_looking_touches_nothing(root):
    before = state(root)
    assert len(found(root).found) > 40
    assert state(root) == before


def test_nothing_of_the_person_is_left_by_name_or_by_content(root):
    _, left = removed(root)
    after = state(root)
    by_hand = {trace.path.relative_to(root).as_posix() for trace in left}
    assert by_hand == {"notes.md"}
    assert left[0].lines == (3,)
    for name, data in after.items():
        assert not NAMES.search(name.encode()), name
        if name not in by_hand:
            assert not NAMES.search(data), name
        assert hashlib.sha256(data).hexdigest() not in hashes("vera"), name
        for content in hashes("vera"):
            assert content.encode() not in data, name
    folders = [path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_dir()]
    assert not [name for name in folders if NAMES.search(name.encode())]


def test_nothing_of_anybody_else_is_touched(root):
    before = state(root)
    removed(root)
    after = state(root)
    changed = {name for name in before if name in after and before[name] != after[name]}
    # Texts of several people lose the person's entries; pages of several are made anew by the next batch.
    assert changed == {"season.yaml", "contacts.yaml", "out/journal.jsonl"}
    gone = before.keys() - after.keys()
    hers = re.compile(r"vera|s03|^store/|^\.segmentkit/|^held/backup\.bin$|^out/(summary\.html|wall\.jpg)$")
    assert [name for name in gone if not hers.search(name)] == []
    for name in before:
        if re.search(r"olga|s04|s05|model|other", name):
            assert after[name] == before[name], name
    season = load_season(root / "season.yaml")
    assert [item.id for item in season.season.items] == ["s04", "s05"]
    assert "# the second one" in (root / "season.yaml").read_text()


def test_of_the_working_folder_only_what_holds_the_person_goes(root):
    store = Store(root / "store")

    def there(key):
        return store.path_for(KIND, RECIPE, key, suffix=".mp4").is_file()

    keys = ("end board", "vera swings", "vera on a card", "olga swings", "olga on a card")
    before = state(root / "store")
    assert [there(key) for key in keys] == [True] * 5
    removed(root)
    assert [there(key) for key in keys] == [True, False, False, True, True]
    after = state(root / "store")
    kinds = {name.split("/")[0] for name in after}
    assert kinds == {name.split("/")[0] for name in before}
    for kind in ("clip", "header", "still", "scene", "track", "take", "looks", "guide", "movies", "holds"):
        was, now = ([name for name in one if name.startswith(f"{kind}/")] for one in (before, after))
        assert 0 < len(now) < len(was), kind


def test_a_piece_of_which_no_note_tells_goes_too(root):
    stray = put(root / "store" / KIND / "ab" / "abcd.mp4", "an old piece")
    removed(root)
    assert not stray.exists()


def test_small_pictures_of_pieces_go_whosever_they_are(root):
    small = put(root / "store" / "screened" / "ab" / "abcd.bin", "small pictures")
    removed(root)
    assert not small.exists()


def test_takes_that_neither_say_the_name_nor_are_theirs_stay_where_a_storyboard_is_shared(root):
    # s05 is nobody's item by its record, but it shows olga: her storyboard there is left to a person.
    put(root / "s05" / "takes" / "hello_l1.wav", "names her")
    put(root / "s05" / "takes" / "hello_l2.wav", "is her voice")
    put(root / "s05" / "takes" / "hello_l3.wav", "is neither")
    _, left = removed(root, "olga")
    assert [path.name for path in sorted((root / "s05" / "takes").iterdir())] == ["hello_l3.wav"]
    assert root / "s05" / "storyboard.yaml" in {trace.path for trace in left}


def test_what_has_left_the_house_is_told_as_such(root):
    put(root / "out" / "s03" / "s03-short.failed-qc.mp4", "kept aside")
    put(root / "out" / "s03" / "papers" / "s03-takehome.pdf", "a sheet, as the papers of an item are called")
    seen = found(root)
    told = {(copy.what, copy.file): copy.who for copy in seen.sent}
    assert "aired on 2026-04-05" in told["finished file", "s03-web.mp4"]
    assert ("take-home sheet", "take-home.pdf") in told
    assert ("take-home sheet", "s03-takehome.pdf") in told
    assert not [name for _, name in told if "failed-qc" in name]  # nobody was handed it
    assert "s03-short.failed-qc.mp4" in {trace.path.name for trace in seen.found}
    assert ("letter", "s03.received.txt") in told
    assert "has not been aired" in {c.file: c.who for c in found(root, "olga").sent}["s04-web.mp4"]
    first = next(copy for copy in seen.sent if copy.file == "s03-web.mp4")
    assert first.sha256 == hashlib.sha256((root / "out" / "s03" / "s03-web.mp4").read_bytes()).hexdigest()


def test_the_receipt_names_nobody(root):
    seen, left = removed(root)
    text = receipt(seen, left, TODAY, "W-1")
    assert "2 x clip as it was sent" not in text  # one clip, one still
    assert "1 x clip as it was sent" in text
    assert "finished file" in text
    assert "letter" in text
    for _, shown, id_ in PEOPLE:
        for secret in (*shown.split(), id_, "vera", "olga", "Lindholm", "Hips"):
            assert secret.casefold() not in text.casefold(), secret
    assert not any(content in text for content in hashes("vera"))


def test_a_second_look_finds_nobody(root):
    removed(root)
    with pytest.raises(StoryboardUnreadable, match="nobody here is called `vera`"):
        found(root)


@pytest.mark.parametrize("after", [1, 7, 20, 33])
def test_stopped_at_any_moment_the_next_call_finds_the_rest(root, monkeypatch, after):
    unlink, count = Path.unlink, 0

    class KilledError(Exception):
        pass

    def dying(path, missing_ok=False):
        nonlocal count
        count += 1
        if count > after:
            raise KilledError
        unlink(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", dying)
    with pytest.raises(KilledError):
        removed(root)
    monkeypatch.setattr(Path, "unlink", unlink)
    removed(root)
    after_all = state(root)
    assert not [name for name, data in after_all.items() if NAMES.search(data) and name != "notes.md"]
    assert not [name for name in after_all if NAMES.search(name.encode())]


def test_what_the_disk_refuses_is_told_and_the_records_stay_to_find_it_again(root, monkeypatch):
    unlink = Path.unlink

    def refusing(path, missing_ok=False):
        if path.name == "s03-web.mp4":
            raise PermissionError(13, "Permission denied")
        unlink(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", refusing)
    seen, left = removed(root)
    assert any("could not be removed" in trace.why for trace in left)
    assert "1 x delivered file: the disk refused" in receipt(seen, left, TODAY, "W-1")
    monkeypatch.setattr(Path, "unlink", unlink)
    assert "s03" in (root / "season.yaml").read_text()
    removed(root)
    assert not (root / "out" / "s03").exists()


def test_two_people_of_one_name_are_not_mixed_up(root):
    record = (root / "in-s04" / "submissions.yaml").read_text()
    put(root / "in-s06" / "submissions.yaml", record.replace("olga", "vera").replace("s04", "s06"))
    with pytest.raises(StoryboardUnreadable, match="2 people are called `vera`"):
        found(root)


def test_a_demonstrator_who_is_called_as_a_viewer_is_left_alone(root):
    # In s04 and s05 the demonstrator has the name `vera` among people, but is shown as somebody else.
    for item in ("s04", "s05"):
        board = root / item / "storyboard.yaml"
        text = board.read_text().replace("  model: {shown: Our", "  vera: {shown: Our")
        board.write_text(text.replace("person: model", "person: vera"))
    manifest = root / "out" / "s04" / "s04-web.manifest.json"
    manifest.write_text(manifest.read_text().replace('"model"', '"vera"'))
    before = state(root)
    removed(root)
    after = state(root)
    assert [name for name in before if re.search("olga|s04|s05", name) and after.get(name) != before[name]] == []
    assert not any(name.startswith(("s03/", "out/s03/", "in-s03/")) for name in after)


def test_files_outside_the_seasons_folder_are_found_by_their_manifests(root, tmp_path):
    (root / "out").rename(tmp_path / "elsewhere")
    season = load_season(root / "season.yaml")
    seen = look_for("vera", season, tmp_path / "elsewhere", TODAY)
    carry_out(seen.found, season, tmp_path / "elsewhere")
    assert not (tmp_path / "elsewhere" / "s03").exists()
    assert (tmp_path / "elsewhere" / "s04" / "s04-web.mp4").exists()


def test_a_table_loses_the_row_and_keeps_the_others(root):
    rest = 'id,submission,storyboard\r\n"s04",in-s04,s04/storyboard.yaml\r\n'
    put(root / "table.csv", rest.replace('"s04"', 's03,in-s03,s03/storyboard.yaml\r\n"s04"'))
    (root / "season.yaml").unlink()
    season = load_season(root / "table.csv")
    seen = look_for("vera", season, root / "out", TODAY, [root / "store"])
    carry_out(seen.found, season, root / "out")
    assert (root / "table.csv").read_bytes() == rest.encode()


def test_every_kind_of_trace_has_a_word_for_the_receipt(root):
    assert {withdraw.kind_of(trace) for trace in found(root).found} >= {
        "clip as it was sent", "clip or still as it was sent", "working copy", "encoded piece", "measurement", "letter",
        "entry of a list", "file of an item", "delivered file", "page or table of a batch", "copy of a clip", "text",
    }  # fmt: skip
    assert "other file" not in {withdraw.kind_of(trace) for trace in found(root).found}
