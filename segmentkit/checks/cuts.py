"""Words that could go when time is short: those in braces first, then sentences that nothing hangs on."""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.checks.context import CheckContext
from segmentkit.checks.room import is_caution
from segmentkit.checks.say import lasting, quoted
from segmentkit.checks.texts import TimedWords, timed_sentences, timed_words
from segmentkit.storyboard.model import Beat
from segmentkit.timebase import Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Words that could go.

    Attributes:
        beat: id of their beat.
        words: the words with their frames.
        gives: frames that leaving them out gives.
        spare: whether the storyboard has them in braces.
    """

    beat: str
    words: TimedWords
    gives: int
    spare: bool

    def said(self, rate: Rate) -> str:
        """The words and what they give, for a remedy."""
        kind = "the spare words " if self.spare else ""
        return f"{kind}{quoted(self.words.text)}, which gives {lasting(self.gives, rate)}"


def cuttable(context: CheckContext, beat: Beat) -> list[Cut]:
    """Words of a beat that could go: nothing starts in them, they neither warn nor ask, and something is left."""
    found = []
    for speech in (s for s in context.plan.speech if s.beat == beat.beat):
        line = beat.say[speech.line]
        parts = [(timed_words(speech, spare.first, spare.last), True) for spare in line.spare]
        parts += [(part, False) for part in timed_sentences(speech) if not part.text.endswith("?")]
        for part, spare in parts:
            marked = any(part.first <= mark.word < part.last for mark in line.marks)
            whole = part.last - part.first == len(line.words) and len(beat.say) == 1
            if not marked and not whole and not is_caution(part.text):
                found.append(Cut(beat=beat.beat, words=part, gives=part.frames, spare=spare))
    return found


def best_cut(cuts: list[Cut], frames: int) -> Cut | None:
    """The cut that gives just enough frames, else the one that gives most; of equals, the one with fewest words.

    Words in braces come before all others, if they are enough.
    """
    spare = [cut for cut in cuts if cut.spare]
    for some in (spare, cuts):
        if enough := [cut for cut in some if cut.gives >= frames]:
            return min(enough, key=lambda cut: (cut.gives, cut.words.frames))
    return max(spare or cuts, key=lambda cut: (cut.gives, -cut.words.frames), default=None)


def enough_cuts(cuts: list[Cut], frames: int, most: int = 3) -> list[Cut]:
    """As few cuts in different beats as give enough frames, at most `most` of them."""
    chosen: list[Cut] = []
    while frames > 0 and len(chosen) < most:
        taken = {cut.beat for cut in chosen}
        cut = best_cut([cut for cut in cuts if cut.beat not in taken], frames)
        if cut is None:
            break
        chosen.append(cut)
        frames -= cut.gives
    return chosen
