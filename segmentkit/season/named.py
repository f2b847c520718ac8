"""The lower third with its viewer, as it goes on air: whose name stands beside whose face is seen at a glance."""

from __future__ import annotations

from segmentkit.pipeline import Checked
from segmentkit.plan.model import Plan


def named_frame(plan: Plan) -> int:
    """A frame on which the first lower third stands complete; without one, the middle of the first clip seen."""
    for card in plan.cards:
        if card.kind == "lower_third":
            start, end = card.span.start + card.enter_frames, card.span.end - card.leave_frames
            return min(max(start, (start + end) // 2), card.span.end - 1)
    shot = next((shot for shot in plan.shots if shot.panes), plan.shots[0])
    return (shot.span.start + shot.span.end) // 2


def named_picture(checked: Checked) -> bytes:
    """A small JPEG of that frame of a storyboard that was judged, drawn from working copies that are there."""
    from segmentkit.intake.survey import jpeg  # noqa: PLC0415  loads decoders
    from segmentkit.media.stills import planes_to_rgb  # noqa: PLC0415
    from segmentkit.render.picture import Composer  # noqa: PLC0415

    with Composer(checked.plan, checked.facts, checked.look) as composer:
        return jpeg(planes_to_rgb(composer.still(named_frame(checked.plan))))
