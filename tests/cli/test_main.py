import json
import subprocess
import sys
from pathlib import Path

import pytest

from segmentkit.cli.main import VERBS, run


def called(*args: str) -> tuple[int, str]:
    result = subprocess.run(
        [sys.executable, "-m", "segmentkit", *args], capture_output=True, text=True, check=False, timeout=60
    )
    return result.returncode, result.stdout + result.stderr


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_verb_answers_help(verb: str, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as stop:
        run([verb, "--help"])
    assert stop.value.code == 0
    assert verb in capsys.readouterr().out


def test_help_loads_no_heavy_library():
    code = (
        "import sys; from segmentkit.cli.main import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        "heavy = {'numpy', 'cv2', 'av', 'PIL', 'pydantic', 'yaml', 'rich', 'pydub'} & set(sys.modules)\n"
        "sys.exit(f'loaded {sorted(heavy)}' if heavy else 0)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60)
    assert (result.returncode, result.stderr) == (0, "")


def test_an_unreadable_storyboard_says_where_and_exits_with_3(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text("segmentkit: 1\nsegment: {title: T, slot: 0:10, rat: 25}\nbeats: []\n")
    code, said = called("check", str(board))
    assert code == 3
    assert "board.yaml:2:33" in said
    assert "`rate`" in said
    assert "Traceback" not in said


def test_a_missing_file_exits_with_3_and_a_wrong_call_with_2(tmp_path: Path):
    assert called("check", str(tmp_path / "none.yaml"))[0] == 3
    code, said = called("check")
    assert code == 2
    assert "STORYBOARD" in said


def test_a_missing_clip_exits_with_4(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text(
        "segmentkit: 1\nsegment: {title: T, slot: 0:10}\nclips: {a: {file: a.mp4}}\n"
        "beats: [{beat: b, show: [{run: {clip: a, speed: 1}}]}]\n"
    )
    code, said = called("check", str(board))
    assert code == 4
    assert "a.mp4" in said
    assert "there is no such file" in said


def test_consent_comes_before_any_clip_is_opened(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text(
        "segmentkit: 1\nsegment: {title: T, slot: 0:10}\npeople: {maren: {shown: Maren}}\n"
        "clips: {a: {file: not-there.mp4, person: maren}}\nbeats: [{beat: b, show: [{run: {clip: a, speed: 1}}]}]\n"
    )
    code, said = called("check", "--json", str(board))
    assert code == 1
    assert "release-missing" in {finding["id"] for finding in json.loads(said)["findings"]}
