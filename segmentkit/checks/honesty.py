"""What may be said: no promises, no numbers that one camera cannot know, no body part on the wrong side."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import FORBIDDEN, SIDES, UNMEASURABLE, matches
from segmentkit.checks.say import counted, quoted
from segmentkit.checks.texts import is_english, texts
from segmentkit.findings import Severity
from segmentkit.storyboard.people import Hand


@check("language-not-checked", Severity.WARNING)
def language_not_checked(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The lists of words are English.

    In any other language nobody has looked at promises, health and prizes, and that must be known, since a clean
    report would say the opposite.
    """
    del limits
    if not is_english(context.board):
        yield Remark(
            where="segment, language",
            what=f"the words are in {quoted(context.board.segment.language)}, and none of them was looked at for "
            "health, promises, "
            'prizes and sides — the word lists know "en"',
            remedy="let someone who reads the language look at the words, and add your own with forbidden in the "
            "house rules",
            path=("segment", "language"),
        )


@check("wording-forbidden", Severity.ERROR)
def wording_forbidden(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A teaching item promises nothing.

    No cure, no guarantee, no yards, no diagnosis, and no word about a viewer's body.

    Each wording comes with its reason and a kinder alternative. A few are matters of taste and only warn.
    """
    phrases = limits.forbidden + (FORBIDDEN if is_english(context.board) else ())
    for text in texts(context.board):
        for phrase, said in matches(phrases, text.text):
            yield Remark(
                where=text.where,
                what=f"{quoted(said)} is said — {phrase.why}",
                remedy=phrase.rather,
                path=text.path,
                numbers=(("phrase", said),),
                severity=phrase.severity,
            )


@check("wording-unmeasurable", Severity.ERROR)
def wording_unmeasurable(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """One camera shows where things are in its picture.

    It shows no degrees, no weight, no face, no path and no speed, so no text may claim them.

    Face and path may be spoken of as an inference, in a sentence that says so.
    """
    del limits
    if not is_english(context.board):
        return
    for text in texts(context.board):
        for phrase, said in matches(UNMEASURABLE, text.text):
            yield Remark(
                where=text.where,
                what=f"{quoted(said)} is claimed — {phrase.why}",
                remedy=phrase.rather,
                path=text.path,
                numbers=(("phrase", said),),
                severity=phrase.severity,
            )


@check("wording-side", Severity.WARNING)
def wording_side(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Lead and trail are true for everyone; left and right are wrong for left-handers and in any mirrored picture.

    Where exactly one hand is stated for the people in the segment, the finding says which word is meant.
    """
    del limits
    board = context.board
    if not is_english(board):
        return
    hands = {person.handed for person in board.people.values() if person.handed is not None}
    hand = hands.pop() if len(hands) == 1 else None
    for text in texts(board):
        found = [(m[1].lower(), m[2].lower()) for m in SIDES.finditer(text.text)]
        if not found:
            continue
        side, part = found[0]
        rather = f'"lead {part}" or "trail {part}"' if hand is None else f'"{_named(side, hand)} {part}"'
        yield Remark(
            where=text.where,
            what=f"{quoted(f'{side} {part}')} names a side of the body ({counted(len(found), 'time')} in this text) "
            "— lead and trail are right for both hands",
            remedy=f"write {rather}",
            path=text.path,
            numbers=(("times", len(found)),),
        )


def _named(side: str, hand: Hand) -> str:
    leads = "left" if hand is Hand.RIGHT else "right"
    return "lead" if side == leads else "trail"
