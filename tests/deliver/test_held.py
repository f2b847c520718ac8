"""A manifest says who and what a file holds, so that it can be found when a release is taken back."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from segmentkit.deliver.manifest import held
from segmentkit.facts import ClipFacts, Facts, StillFacts
from segmentkit.geometry import Size
from segmentkit.storyboard.load import loads
from tests.makers import LESSON


def test_people_by_their_names_in_the_storyboard_and_sources_by_content():
    clip = ClipFacts(
        path=Path("m.mp4"), content="ab", size=Size(320, 180), times=(Fraction(0),), duration=Fraction(1),
        has_sound=False,
    )  # fmt: skip
    still = StillFacts(path=Path("c.jpg"), content="cd", size=Size(320, 180))
    facts = Facts(clips={"marta_dtl": clip}, stills={"course": still}, readings=())
    data = held(loads(LESSON), facts)
    assert "marta" in data["people"]
    assert "Marta" not in str(data)
    assert data["sources"] == [
        {"id": "marta_dtl", "person": "marta", "sha256": "ab"}, {"id": "course", "person": None, "sha256": "cd"},
    ]  # fmt: skip
