"""The words as a lesson: short sentences, one thing at a time, kindness first, and the question answered."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import MORE_FAULTS, MORE_FEELS, PRAISE, STOPWORDS
from segmentkit.checks.say import counted, listed, number, quoted
from segmentkit.checks.texts import is_english, sentences, spoken
from segmentkit.findings import Severity

_WORD = re.compile(r"[a-z]+(?:['’-][a-z]+)*")
_MINUTE = Fraction(60)


@check("sentence-too-long", Severity.NOTE)
def sentence_too_long(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A listener cannot go back.

    Short sentences are followed while looking; over eighteen words is a note, over twenty-four a warning. Common
    practice, no source.
    """
    for text in spoken(context.board):
        long = [s for s in sentences(text.text) if len(s.split()) > limits.sentence_words]
        if not long:
            continue
        worst = max(long, key=lambda s: len(s.split()))
        words = len(worst.split())
        yield Remark(
            where=text.where,
            what=f"{quoted(worst)} has {counted(words, 'word')} — up to {number(limits.sentence_words)} are easily "
            "followed" + (f"; {counted(len(long), 'sentence')} of this text are longer" if len(long) > 1 else ""),
            remedy="make two sentences of it",
            path=text.path,
            numbers=(("words", words), ("most", limits.sentence_words), ("sentences", len(long))),
            severity=Severity.WARNING if words > limits.sentence_words_most else None,
        )


@check("drills-too-many", Severity.WARNING)
def drills_too_many(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A lesson has time for one thing. A viewer who gets three drills does none: one in a minute, two in three minutes.

    Drill cards are counted, and drills that are only spoken of are not.
    """
    drills = [
        (index, beat.beat, number_)
        for index, beat in enumerate(context.board.beats)
        for number_, spec in enumerate(beat.cards)
        if spec.drill is not None
    ]
    long = Fraction(context.plan.slot) / context.plan.rate.fps > _MINUTE
    most = limits.drills_long if long else limits.drills_short
    if len(drills) > most:
        index, beat, number_ = drills[int(most)]
        yield Remark(
            where=f"beat {beat}, drill",
            what=f"the segment has {counted(len(drills), 'drill card')} — at most {number(most)} in "
            f"{'three minutes' if long else 'a minute'}",
            remedy=f"keep {listed([b for _, b, _ in drills[: int(most)]]) or 'none'} and leave the rest for another "
            "programme",
            path=("beats", index, "cards", number_, "drill"),
            numbers=(("drills", len(drills)), ("most", most)),
        )


@check("faults-too-many", Severity.NOTE)
def faults_too_many(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """One fault, one feel, one drill.

    Too much information is the named sin of the teaching trade.

    What a stroke means cannot be known: two marks may show one fault. So this counts the beats that draw new fault
    strokes, and looks for words that announce another fault; both are hints, and so it is a note.
    """
    beats = [beat.beat for beat in context.board.beats if any(s.role.value == "fault" for s in beat.strokes.values())]
    if len(beats) > limits.fault_beats:
        yield Remark(
            where=f"beat {beats[int(limits.fault_beats)]}",
            what=f"{counted(len(beats), 'beat')} draw new fault strokes ({', '.join(beats)}) — more than "
            f"{number(limits.fault_beats)} may be more than one fault",
            remedy="keep to the main fault, unless all of them show the same one",
            path=("beats", context.index_of(beats[int(limits.fault_beats)]), "strokes"),
            numbers=(("beats", len(beats)), ("most", limits.fault_beats)),
        )
    if is_english(context.board):
        for text in spoken(context.board):
            if found := MORE_FAULTS.search(text.text):
                yield Remark(
                    where=text.where,
                    what=f"{quoted(found[0])} announces more than 1 fault — a lesson has time for one",
                    remedy="keep to the main fault",
                    path=text.path,
                    numbers=(("phrase", found[0]),),
                )


@check("feels-too-many", Severity.NOTE)
def feels_too_many(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Nobody can swing with two feelings in mind.

    Feelings are not marked in a storyboard, so this counts beats named "feel" and words that announce another one; a
    feeling called anything else passes unseen.
    """
    del limits
    named = [beat.beat for beat in context.board.beats if re.search(r"(?:^|[_-])feel", beat.beat)]
    if len(named) > 1:
        yield Remark(
            where=f"beat {named[1]}",
            what=f"{counted(len(named), 'beat')} are named for a feel ({', '.join(named)}) — a lesson has time for 1",
            remedy="keep the one that helps most",
            path=("beats", context.index_of(named[1]), "beat"),
            numbers=(("feels", len(named)),),
        )
    if is_english(context.board):
        for text in spoken(context.board):
            if found := MORE_FEELS.search(text.text):
                yield Remark(
                    where=text.where,
                    what=f"{quoted(found[0])} announces more than 1 feel — a lesson has time for one",
                    remedy="keep the one that helps most",
                    path=text.path,
                    numbers=(("phrase", found[0]),),
                )


@check("praise-missing", Severity.NOTE)
def praise_missing(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Compliment first: what is good in a swing is evidence too, and makes the rest easier to hear.

    Looks for a listed word of praise in all that is said up to and including the first beat with a fault stroke. A
    kind sentence without such a word is missed, and "well" may be said of the weather: a hint, no more.
    """
    del limits
    board = context.board
    first = next(
        (i for i, beat in enumerate(board.beats) if any(s.role.value == "fault" for s in beat.strokes.values())), None
    )
    if first is None or not is_english(board):
        return
    before = [text for text in spoken(board) if text.beat is not None and text.beat <= first]
    if before and not any(PRAISE.search(text.text) for text in before):
        words = sum(len(text.text.split()) for text in before)
        yield Remark(
            where=f"beat {board.beats[first].beat}",
            what=f"the first fault is shown after {counted(words, 'word')} without a word of praise — something "
            "good comes first",
            remedy="say what the player does well before the first fault",
            path=("beats", first, "say"),
            numbers=(("words", words), ("praise", 0)),
        )


def _stem(word: str) -> str:
    """A crude stem, enough to see "feeling" and "feels" as one word."""
    word = re.sub(r"['’]s?$", "", word)
    for ending in ("ing", "ed", "ly", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)].rstrip("e")
    return word.rstrip("e") if len(word) > 3 else word


def _content(text: str) -> dict[str, str]:
    """The content words of a text by their stems."""
    return {_stem(word): word for word in _WORD.findall(text.lower()) if word not in STOPWORDS and len(word) > 2}


@check("question-unanswered", Severity.NOTE)
def question_unanswered(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The viewer asked something. The answer uses the words of the question, so that they know it was theirs.

    A weak test: at least half of the question's content words must come again after the beat that asks it, which is
    the first in the first half of the segment to use most of them. Words that come again need not be an answer, and
    an answer may use others.
    """
    del limits
    board = context.board
    question = board.segment.question
    if question is None or not is_english(board):
        return
    wanted = _content(question)
    if not wanted:
        return
    said = [(text.beat or 0, _content(text.text).keys()) for text in spoken(board)]
    shares = [(len(wanted.keys() & words), beat) for beat, words in said]
    asked = next((beat for share, beat in shares if 2 * share > len(wanted) and 2 * beat < len(board.beats)), -1)
    later = {stem for beat, stems in said if beat > asked for stem in stems}
    found = wanted.keys() & later
    if 2 * len(found) < len(wanted):
        missing = [word for stem, word in wanted.items() if stem not in later]
        yield Remark(
            where="segment, question",
            what=f"{len(found)} of the {counted(len(wanted), 'content word')} of {quoted(question)} come again in "
            f"the words that follow it (not: {', '.join(missing[:5])}) — at least half should",
            remedy="answer the question in its own words, near the end",
            path=("segment", "question"),
            numbers=(("found", len(found)), ("words", len(wanted))),
        )
