import json
import subprocess
import sys
from pathlib import Path

import pytest

from segmentkit.cli.main import VERBS, run

HEAVY = {
    "numpy", "cv2", "av", "PIL", "pydantic", "yaml", "segmentkit.pipeline", "segmentkit.plan.model",
    "segmentkit.storyboard.model", "segmentkit.checks.registry", "segmentkit.render.picture",
}  # fmt: skip


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
        "import sys; from segmentkit.cli.main import VERBS, main\n"
        "for verb in [[], *([verb] for verb in VERBS)]:\n"
        "    try: main([*verb, '--help'])\n    except SystemExit: pass\n"
        "    heavy = HEAVY & set(sys.modules)\n"
        "    if heavy: sys.exit(f'{verb} --help loaded {sorted(heavy)}')\n"
    ).replace("HEAVY", repr(HEAVY))
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60)
    assert (result.returncode, result.stderr) == (0, "")


def test_what_help_must_not_load_is_what_is_heavy():
    loads = f"import sys, segmentkit.pipeline, segmentkit.render.movie; print({HEAVY!r} <= set(sys.modules))"
    told = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True, timeout=60)
    assert told.stdout == "True\n", "a name that nothing has guards nothing"


def test_choices_that_help_shows_are_those_there_are():
    from segmentkit import papers as made
    from segmentkit.cli import papers
    from segmentkit.deliver.paper import FORMATS

    assert papers.KINDS == made.KINDS
    assert tuple(FORMATS) == papers.SIZES


def answered(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str]:
    """The same without a process of its own."""
    with pytest.raises(SystemExit) as stop:
        run(list(args))
    said = capsys.readouterr()
    return int(stop.value.code or 0), said.out + said.err


def test_an_unreadable_storyboard_says_where_and_exits_with_3(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text("segmentkit: 1\nsegment: {title: T, slot: 0:10, rat: 25}\nbeats: []\n")
    code, said = called("check", str(board))
    assert code == 3
    assert "board.yaml:2:33" in said
    assert "`rate`" in said
    assert "Traceback" not in said


def test_a_missing_file_exits_with_3_and_a_wrong_call_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert answered(capsys, "check", str(tmp_path / "none.yaml"))[0] == 3
    code, said = answered(capsys, "check")
    assert code == 2
    assert "STORYBOARD" in said


def test_a_missing_clip_exits_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    board = tmp_path / "board.yaml"
    board.write_text(
        "segmentkit: 1\nsegment: {title: T, slot: 0:10}\nclips: {a: {file: a.mp4}}\n"
        "beats: [{beat: b, show: [{run: {clip: a, speed: 1}}]}]\n"
    )
    code, said = answered(capsys, "check", str(board))
    assert code == 4
    assert "a.mp4" in said
    assert "there is no such file" in said


def test_consent_comes_before_any_clip_is_opened(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    board = tmp_path / "board.yaml"
    board.write_text(
        "segmentkit: 1\nsegment: {title: T, slot: 0:10}\npeople: {maren: {shown: Maren}}\n"
        "clips: {a: {file: not-there.mp4, person: maren}}\nbeats: [{beat: b, show: [{run: {clip: a, speed: 1}}]}]\n"
    )
    code, said = answered(capsys, "check", "--json", str(board))
    assert code == 1
    assert "release-missing" in {finding["id"] for finding in json.loads(said)["findings"]}
