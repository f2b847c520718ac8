"""What the slate before a programme says."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from segmentkit.delivery import Delivery
from segmentkit.plan.leader import LeaderPlan, leader_plan
from segmentkit.plan.model import Plan
from segmentkit.storyboard.leaders import leader as find_leader
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Rate, label_of_frame

Rows = tuple[tuple[str, str], ...]
"""What a slate says: what, and how; the first holds programme and title."""
_SCANS = {None: "progressive", "top": "interlaced, upper field first", "bottom": "interlaced, lower field first"}
_MINUS = str.maketrans("-", "−")


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What stands around a programme: its leader, and what the slate in it says."""

    leader: LeaderPlan
    rows: Rows


def around(
    board: Storyboard, plan: Plan, delivery: Delivery, *, version: int | None, today: datetime.date
) -> Around | None:
    """What stands around a programme in a delivery; None where it stands alone.

    Raises:
        StoryboardUnreadable: when there is no such leader.
        ValueError: when the delivery's rate has no labels.
    """
    if delivery.leader is None:
        return None
    pictures = 2 if delivery.fields else 1
    rate = Rate(plan.rate.fps / pictures)
    leader = leader_plan(find_leader(delivery.leader), plan.frames // pictures, rate)
    rows = slate_rows(board, plan, leader, delivery, version=version, today=today)
    return Around(leader=leader, rows=rows)


def slate_rows(
    board: Storyboard, plan: Plan, leader: LeaderPlan, delivery: Delivery, *, version: int | None, today: datetime.date
) -> Rows:
    """The lines of a slate.

    What nobody stated is left out. The length is that of the programme; the leader never counts.

    Args:
        board: title, programme, and what it says for the slate.
        plan: size of the picture.
        leader: running time and timecode.
        delivery: scan, sound and captions.
        version: number of the version in review; None before the first.
        today: the day on which the file is made.
    """
    segment, slate = board.segment, board.slate
    over = " · ".join(part for part in (segment.programme, segment.item) if part)
    sound = f"stereo, {delivery.loudness:g} LUFS, tone {leader.tone:g} dBFS".translate(_MINUS)
    rows = (
        ("Number", slate.number),
        ("Episode", slate.episode),
        ("Version", str(version) if version is not None else None),
        ("Length", str(label_of_frame(leader.programme.frames, leader.rate))),
        ("Programme starts", str(leader.label(leader.programme.start))),
        ("Date", today.isoformat()),
        ("Picture", f"{plan.size}, {_rate(leader)} frames a second"),
        ("Scan", _SCANS[delivery.fields]),
        ("Sound", sound if delivery.sound is not None else "none"),
        ("Captions", "in the picture" if delivery.burned else "beside the file"),
        ("Language", segment.language),
        ("Flash test", "see the QC report beside the file"),
        ("Made by", slate.house),
        ("Contact", slate.contact),
    )
    return ((over or "Programme", segment.title), *((name, text) for name, text in rows if text))


def _rate(leader: LeaderPlan) -> str:
    fps = leader.rate.fps
    return str(fps.numerator) if fps.denominator == 1 else f"{float(fps):.2f}"
