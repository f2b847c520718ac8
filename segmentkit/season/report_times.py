"""How long music and disclosures are in a segment, from its plan."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

from segmentkit.pipeline import check
from segmentkit.season.report import Lengths, music_key
from segmentkit.storyboard.load import LoadedStoryboard


def lengths_on(today: datetime.date, board: LoadedStoryboard) -> Lengths:
    """Plans a storyboard and measures what a channel asks for.

    Args:
        today: the day on which releases must hold.
        board: the storyboard.

    Raises:
        SegmentkitError: when it cannot be planned.
    """
    plan = check(Path(board.file), today=today).plan
    rate = plan.rate.fps
    disclosed = sum(card.span.frames for card in plan.cards if card.kind == "disclosure")
    music: dict[tuple[str, str], Fraction] = {}
    for cue, spec in zip(plan.music, board.board.music, strict=True):
        key = music_key(spec.title, spec.file, spec.credit)
        music[key] = music.get(key, Fraction(0)) + Fraction(cue.span.frames) / rate
    return Lengths(sponsor=Fraction(disclosed) / rate, music=music)
