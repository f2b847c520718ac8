import itertools
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from segmentkit.plan.fit import Part, Stretch, divide, fit, reach


@st.composite
def stretches(draw: st.DrawFn, most: int = 6) -> Stretch:
    least = draw(st.integers(0, 4))
    nominal = least + draw(st.integers(0, most))
    return Stretch(
        least=least, nominal=nominal, most=nominal + draw(st.integers(0, most)), gives=draw(st.integers(1, 3))
    )


def cost(lengths: tuple[int, ...], given_: list[Stretch]) -> tuple[Fraction, ...]:
    """What the fit promises to make small: time taken by level, last level first, then the sum of squares over room."""
    over = [tuple(max(0, s.nominal - n) for s, n in zip(given_, lengths, strict=True))]
    levels = sorted({s.gives for s in given_}, reverse=True)
    by_level = [Fraction(sum(t for t, s in zip(over[0], given_, strict=True) if s.gives == level)) for level in levels]
    squares = Fraction(0)
    for s, n in zip(given_, lengths, strict=True):
        change = n - s.nominal
        room = s.most - s.nominal if change > 0 else s.nominal - s.least
        squares += Fraction(change * change, room) if change else 0
    return (*by_level, squares)


@given(st.lists(stretches(), min_size=1, max_size=4), st.data())
def test_the_fit_equals_brute_force(given_: list[Stretch], data: st.DataObject):
    slot = data.draw(st.integers(sum(s.least for s in given_), sum(s.most for s in given_)))
    lengths = fit(given_, slot)
    assert sum(lengths) == slot
    assert all(s.least <= n <= s.most for s, n in zip(given_, lengths, strict=True))
    under = slot < sum(s.nominal for s in given_)
    allowed = [range(s.least, s.nominal + 1) if under else range(s.nominal, s.most + 1) for s in given_]
    best = min(cost(choice, given_) for choice in itertools.product(*allowed) if sum(choice) == slot)
    assert cost(lengths, given_) == best


@given(st.lists(stretches(), min_size=1, max_size=5), st.integers(0, 200))
def test_a_slot_out_of_reach_is_come_as_near_to_as_the_limits_allow(given_: list[Stretch], slot: int):
    reachable = min(max(slot, sum(s.least for s in given_)), sum(s.most for s in given_))
    assert sum(fit(given_, slot)) == reachable


def test_who_gives_first_is_used_up_first():
    praise = Stretch(least=50, nominal=100, most=100, gives=1)
    replay = Stretch(least=50, nominal=100, most=100, gives=2)
    assert fit([replay, praise], 170) == (100, 70)
    assert fit([replay, praise], 120) == (70, 50)


@st.composite
def parts(draw: st.DrawFn) -> Part:
    until = draw(st.none() | st.integers(0, 40))
    return Part(stretch=draw(stretches()), end_from=draw(st.integers(0, 40)), end_until=until)


@given(st.lists(parts(), min_size=1, max_size=5), st.data())
def test_a_beat_is_divided_without_gap_or_overlap_within_its_shots_limits(given_: list[Part], data: st.DataObject):
    low, high = reach(given_)[-1]
    total = data.draw(st.integers(low, high))
    lengths = divide(given_, total)
    assert sum(lengths) == total
    assert all(p.stretch.least <= n <= p.stretch.most for p, n in zip(given_, lengths, strict=True))


@given(st.lists(parts(), min_size=1, max_size=3))
def test_reach_equals_brute_force_where_the_wishes_can_all_be_met(given_: list[Part]):
    options = itertools.product(*(range(p.stretch.least, p.stretch.most + 1) for p in given_))
    totals = []
    for lengths in options:
        ends = list(itertools.accumulate(lengths))
        if all(
            p.end_from <= e and (p.end_until is None or e <= p.end_until) for p, e in zip(given_, ends, strict=True)
        ):
            totals.append(ends[-1])
    if totals:
        assert reach(given_)[-1] == (min(totals), max(totals))


def test_a_freeze_begins_before_the_word_that_its_stroke_starts_on():
    # A replay of 20 to 60 frames, then a freeze whose stroke starts at frame 30: the replay gives way.
    replay = Part(stretch=Stretch(least=20, nominal=50, most=60), end_until=30)
    freeze = Part(stretch=Stretch(least=10, nominal=10, most=200), end_from=90)
    assert reach([replay, freeze]) == [(20, 30), (90, 230)]
    assert divide([replay, freeze], 100)[0] <= 30
