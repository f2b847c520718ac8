"""Calls the program as a person does, in this process."""

from __future__ import annotations

import pytest

from segmentkit.cli.main import run


def called(capsys: pytest.CaptureFixture[str], *args: object) -> tuple[int, str]:
    """The exit code, and what was said."""
    with pytest.raises(SystemExit) as stop:
        run([str(arg) for arg in args])
    said = capsys.readouterr()
    return int(stop.value.code or 0), said.out + said.err
