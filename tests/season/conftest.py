"""What tests of whole seasons have in common."""

from __future__ import annotations

import pytest


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder; the store that workers name for their process is forgotten afterwards."""
    monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "store"))
    return tmp_path
