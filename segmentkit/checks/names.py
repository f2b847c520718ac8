"""Names on pictures: spelled as people want it, on the right face, over the right position."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator

from segmentkit.checks.cards import card_path, card_where
from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import USUAL_ORDER
from segmentkit.checks.say import counted, listed, quoted
from segmentkit.checks.texts import spoken, written
from segmentkit.findings import Severity
from segmentkit.plan.model import Card, ClipPicture
from segmentkit.storyboard.model import Storyboard

_NAME = re.compile(r"[^\W\d_][\w'’-]*")


@check("name-differs", Severity.ERROR)
def name_differs(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A viewer's name is spelled as they want it shown, everywhere; a misspelt name is the letter that comes next day.

    A lower third whose name is not the person's own is an error; a written or spoken name that is almost a person's
    is a warning, since it may be somebody else's.
    """
    del limits
    board = context.board
    for index, beat in enumerate(board.beats):
        for number_, spec in enumerate(beat.cards):
            third = spec.lower_third
            if third is None or third.person is None or third.name is None or third.person not in board.people:
                continue
            shown = board.people[third.person].shown
            if third.name != shown and not re.match(rf"{re.escape(shown)}\s*[,(–—-]", third.name):
                likeness = difflib.SequenceMatcher(a=third.name, b=shown).ratio()
                yield Remark(
                    where=f"beat {beat.beat}, lower third",
                    what=f"the name is written {quoted(third.name)}, but {third.person} is shown as {quoted(shown)} "
                    f"({round(100 * likeness)} % alike) — both must be the same",
                    remedy=f"leave name out, or write {quoted(shown)}",
                    path=("beats", index, "cards", number_, "lower_third", "name"),
                    numbers=(("alike", round(likeness, 3)),),
                )
    names = [word for person in board.people.values() for word in _NAME.findall(person.shown) if word[:1].isupper()]
    for text in (*spoken(board), *written(board)):
        for word in dict.fromkeys(_NAME.findall(text.text)):
            bare = re.sub(r"['’]s?$", "", word)
            if near := _almost(bare, names):
                yield Remark(
                    where=text.where,
                    what=f"{quoted(bare)} is 1 or 2 letters away from the name {quoted(near)} — a name is spelled "
                    "one way",
                    remedy=f"write {quoted(near)}, if that person is meant",
                    path=text.path,
                    numbers=(("alike", round(_likeness(bare, near), 3)),),
                    severity=Severity.WARNING,
                )


def _likeness(a: str, b: str) -> float:
    return difflib.SequenceMatcher(a=a.lower(), b=b.lower()).ratio()


def _almost(word: str, names: list[str]) -> str | None:
    """A name that a capitalised word nearly spells; None when it is a name itself or like none."""
    if len(word) < 4 or not word[0].isupper() or word in names:
        return None
    return next(
        (
            n
            for n in names
            if len(n) >= 4 and n[0] == word[0] and abs(len(n) - len(word)) <= 2 and _likeness(word, n) >= 0.8
        ),
        None,
    )


@check("name-on-wrong-picture", Severity.WARNING)
def name_on_wrong_picture(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The wrong name on a face is the worst caption there is. A lower third should lie over a picture of its person.

    People who only speak are passed over.
    """
    del limits
    board = context.board
    voices = {speaker.person for speaker in board.speakers.values()}
    for card in (c for c in context.plan.cards if c.kind == "lower_third"):
        third = board.beats[context.index_of(card.beat)].cards[card.index].lower_third
        if third is None or third.person is None or third.person in voices:
            continue
        seen = _people_between(context, card)
        if seen and third.person not in seen:
            shown = listed([board.people[p].shown if p in board.people else p for p in sorted(seen)])
            yield Remark(
                where=card_where(card),
                what=f"it names {board.people[third.person].shown}, but "
                f"{counted(len(seen), 'other person is', 'other people are')} in the picture: {shown} — the name "
                "lies over the person's own picture",
                remedy=f"move it to a shot of {board.people[third.person].shown}, or correct person",
                path=card_path(context, card),
                numbers=(("others", len(seen)),),
            )


@check("label-on-wrong-position", Severity.WARNING)
def label_on_wrong_position(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A label that names a position lies over that position's frame.

    Only labels that are a position's name, such as "Impact", over pictures frozen at a named position are compared.
    """
    del limits
    for card in (c for c in context.plan.cards if c.kind == "label"):
        name = "_".join(card.fields[0][1].casefold().replace("-", " ").split())
        shown = {
            pane.picture.position
            for shot in context.plan.shots
            if shot.span.overlap(card.span)
            for pane in shot.panes
            if isinstance(pane.picture, ClipPicture) and pane.picture.position is not None
        }
        if name in USUAL_ORDER and shown and name not in shown:
            yield Remark(
                where=card_where(card),
                what=f"it says {quoted(card.fields[0][1])}, but the "
                f"{counted(len(shown), 'picture is', 'pictures are')} frozen at "
                f"{listed(sorted(shown))} — a label names what is shown",
                remedy="move the label to the beat of its position, or correct it",
                path=card_path(context, card),
                numbers=(("pictures", len(shown)),),
            )


def _people_between(context: CheckContext, card: Card) -> set[str]:
    board: Storyboard = context.board
    seen: set[str] = set()
    for shot in context.plan.shots:
        if not shot.span.overlap(card.span):
            continue
        for pane in shot.panes:
            shown = pane.picture
            source = board.clips.get(shown.clip) if isinstance(shown, ClipPicture) else board.stills.get(shown.still)
            if source is not None and source.person is not None:
                seen.add(source.person)
    return seen
