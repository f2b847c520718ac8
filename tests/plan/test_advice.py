import itertools

import pytest

from segmentkit.plan.advice import advise
from segmentkit.plan.build import build_plan
from segmentkit.plan.spare import spare_words, without
from segmentkit.storyboard.model import Beat
from tests.plan.lesson import lesson, planned_lesson


def all_may_go(beat: Beat, text: str) -> str | None:
    return None


def nothing_may_go(beat: Beat, text: str) -> str | None:
    return "no"


def least() -> int:
    plan, _ = planned_lesson(lesson(), slot=1)
    return plan.frames


def test_nothing_is_offered_when_it_fits():
    loaded = lesson()
    plan, facts = planned_lesson(loaded)
    advice = advise(loaded, facts, plan, all_may_go)
    assert (plan.frames, advice.over, advice.options) == (1250, 0, ())
    # 5, 13 and 7 words of 0.4 s at 25 frames a second.
    assert [spared.gain for spared in advice.spared] == [50, 130, 70]


@pytest.mark.parametrize("over", [1, 30, 50, 51, 80, 100, 120, 130, 170, 200, 250])
def test_the_offer_equals_brute_force(over: int):
    loaded = lesson()
    slot = least() - over
    plan, facts = planned_lesson(loaded, slot=slot)
    advice = advise(loaded, facts, plan, all_may_go)
    words = spare_words(loaded.board, facts)
    enough = [
        pick
        for size in range(1, len(words) + 1)
        for pick in itertools.combinations(words, size)
        if build_plan(*without(loaded, facts, pick), slot=slot)[0].frames == slot
    ]
    fewest = min((len(pick) for pick in enough), default=0)
    wanted = [pick for pick in enough if len(pick) == fewest]
    assert {option.words for option in advice.options} == set(wanted[:4])
    if advice.options:
        assert all(option.gain >= over for option in advice.options)
        # Later beats are asked first.
        order = [tuple(sorted((w.index for w in option.words), reverse=True)) for option in advice.options]
        assert order == sorted(order, reverse=True)
    else:
        assert advice.most < over


def test_words_that_must_stay_are_named_and_never_offered():
    loaded = lesson()
    plan, facts = planned_lesson(loaded, slot=least() - 40)

    def stays(beat: Beat, text: str) -> str | None:
        return "they are dear to us" if beat.beat == "praise" else None

    advice = advise(loaded, facts, plan, stays)
    assert [spared.stays for spared in advice.spared] == ["they are dear to us", "they are dear to us", None]
    assert {words.beat for option in advice.options for words in option.words} <= {"impact"}
    everything_stays = advise(loaded, facts, plan, nothing_may_go)
    assert (everything_stays.options, everything_stays.most) == ((), 0)
