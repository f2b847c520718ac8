"""Words that are never offered when time is short, whatever stands around them."""

from __future__ import annotations

from segmentkit.checks.phrases import DRILL, HEALTH, PRIZE
from segmentkit.checks.room import PROTECTED_CARDS, is_caution
from segmentkit.checks.say import listed, quoted
from segmentkit.storyboard.model import Beat


def why_they_stay(beat: Beat, text: str) -> str | None:
    """Why words must stay although they are in braces; None when they may go.

    Cautions, health, drills and disclosures are kept, and so are all words of a beat that is rigid or shows such cards.
    """
    if beat.rigid:
        return "the beat is rigid"
    if cards := [card.kind for card in beat.cards if card.kind in PROTECTED_CARDS]:
        return f"the beat shows a {listed(cards)} card"
    if is_caution(text):
        return "they are a caution"
    for what, pattern in (("health", HEALTH), ("the drill", DRILL), ("who pays", PRIZE)):
        if found := pattern.search(text):
            return f"{quoted(found[0])} speaks of {what}"
    if any(is_caution(line.text) for line in beat.say):
        return "the beat holds a caution"
    return None
