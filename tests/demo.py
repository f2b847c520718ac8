"""The demonstration's material for tests: where it lies, and what was measured of it, once for all tests and runs."""

from __future__ import annotations

from pathlib import Path

from segmentkit.facts import ClipFacts
from segmentkit.media.normalise import normalise
from segmentkit.media.store import Store

DEMO = Path(__file__).resolve().parent.parent / "demo_project"
CLIPS = DEMO / "clips"
STORE = Store(DEMO / ".segmentkit")
"""The demonstration's own working folder: entries are named by content and recipe, and made by whoever comes first."""


def clip_facts(name: str) -> ClipFacts:
    """A clip of the demonstration with its working copy."""
    return normalise(CLIPS / f"{name}.mp4", STORE)
