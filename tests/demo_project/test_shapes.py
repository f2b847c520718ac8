"""The demo in the shapes in which feeds show pictures: captions in the picture, and nothing to put right."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from segmentkit.errors import NotFit
from segmentkit.facts import TakenArea
from segmentkit.findings import Severity
from segmentkit.geometry import Rect
from segmentkit.pipeline import check, render

DEMO = Path(__file__).parents[2] / "demo_project"
BOARD = DEMO / "storyboard.yaml"
TODAY = datetime.date(2026, 11, 25)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["1080x1080", "1080x1350"])
def test_no_shape_has_an_error_or_a_warning(size: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SEGMENTKIT_STORE", str(DEMO / ".segmentkit"))
    for folder in ("clips", "takes", "music"):
        (tmp_path / folder).symlink_to(DEMO / folder)
    board = tmp_path / "storyboard.yaml"
    board.write_text(BOARD.read_text("utf-8"), "utf-8")
    shipped = (DEMO.parent / "templates" / "profiles" / "square.yaml").read_text("utf-8")
    profile = tmp_path / "shape.yaml"
    profile.write_text(shipped.replace("size: 1080x1080", f"size: {size}"), "utf-8")
    checked = check(board, today=TODAY, deliver=["shape.yaml"])
    assert str(checked.plan.size) == size
    assert [(f.id, f.where) for f in checked.findings if f.severity is not Severity.NOTE] == []
    assert [one for made in checked.captions for one in made.captions if one.hits] == []


@pytest.mark.slow
def test_captions_that_are_asked_for_are_judged_like_those_of_a_profile(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def all_of_it(plan, *_):  # type: ignore[no-untyped-def]
        (beat,) = (beat for beat in plan.beats if beat.id == "comfort")
        whole = Rect(0, 0, plan.size.width, plan.size.height)
        return (TakenArea(span=beat.span, area=whole, what="caution", beat=beat.id),)

    monkeypatch.setattr("segmentkit.render.areas.taken_areas", all_of_it)
    assert check(BOARD, today=TODAY, deliver=["web"]).fits
    covered = check(BOARD, today=TODAY, deliver=["web"], captions=True)
    assert {f.id for f in covered.findings if f.severity is Severity.ERROR} == {"caption-over-caution"}
    with pytest.raises(NotFit, match="comfort, captions"):
        render(BOARD, tmp_path / "out.mp4", "web", captions=True, final=False, today=TODAY)
    assert list(tmp_path.iterdir()) == []
