"""The season that is played through: exact where that is known, within Graham's bounds elsewhere."""

from __future__ import annotations

from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.benchmarks.season import Costs, _phase, play

PLAIN = Costs(look=2.0, first=30.0, further=10.0)


@pytest.mark.parametrize(("submissions", "workers"), [(1, 1), (10, 3), (100, 7), (9, 9), (5, 20)])
def test_equal_tasks_take_as_long_as_can_be_counted(submissions, workers):
    costs = Costs(look=2.0, first=10.0, further=10.0)
    played = play(submissions, workers, costs)
    assert played.wall == pytest.approx(ceil(submissions / workers) * 12.0)
    assert played.busy == pytest.approx(submissions * 12.0 / (played.wall * workers))


def test_one_worker_pays_for_what_all_share_once():
    assert play(5, 1, PLAIN).wall == pytest.approx(5 * 2 + 30 + 4 * 10)
    assert play(4, 4, PLAIN, machines=4, shared=False).wall == pytest.approx(2 + 30)


def test_the_dispatcher_is_the_limit_of_very_many_workers():
    costs = Costs(look=0.0, first=1.0, further=1.0, dispatch=0.01)
    assert play(1000, 10_000, costs).wall == pytest.approx(2 * 1000 * 0.01 + 1.0)


def test_half_the_machines_cost_the_same_and_take_twice_as_long():
    few, many = play(10_000, 8, PLAIN, machines=4), play(10_000, 16, PLAIN, machines=8)
    assert few.wall / many.wall == pytest.approx(2, rel=0.01)
    assert few.paid == pytest.approx(many.paid, rel=0.01)


def test_lost_workers_cost_what_they_had_done():
    calm, rough = play(2000, 8, PLAIN), play(2000, 8, PLAIN, lost=10)
    assert rough.lost > 20
    assert calm.wall < rough.wall < 1.2 * calm.wall


@settings(max_examples=60)
@given(st.lists(st.floats(0.1, 50), min_size=1, max_size=40), st.integers(1, 12))
def test_list_scheduling_keeps_grahams_bound(tasks, workers):
    """R. L. Graham, Bounds on multiprocessing timing anomalies (1969): list scheduling is at most 2 - 1/m times as
    long as the best, and the best is no shorter than the longest task or an equal share."""
    end, worked, _ = _phase(tasks, workers, 0.0, 0.0, 0.0, None)
    least = max(*tasks, sum(tasks) / workers)
    assert least - 1e-6 <= end <= (2 - 1 / workers) * least + 1e-6
    assert worked == pytest.approx(sum(tasks))
