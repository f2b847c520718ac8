"""The gate before any clip is opened: releases, withdrawals, minors, pain."""

from __future__ import annotations

import datetime

import pytest

from segmentkit.intake.consent import consent_reasons, shown_name, shown_place, uses_allowed
from tests.intake.makers import NOT_USED, TODAY, minor, person, release

DAY = datetime.timedelta(days=1)


def ids(who, today=TODAY):
    return [reason.id for reason in consent_reasons(who, today)]


def test_a_release_that_holds_gives_no_reason():
    assert ids(person()) == []
    assert uses_allowed(person(), TODAY) == ("web", "broadcast")


@pytest.mark.parametrize(
    ("who", "expected"),
    [
        (person(release=None), "no-release"),
        (person(release=release(until=TODAY - DAY)), "release-ended"),
        (person(release=release(**{"from": TODAY + DAY})), "release-not-yet"),
        (person(withdrawn=TODAY), "withdrawn"),
        (person(withdrawn=TODAY + 30 * DAY), "withdrawn"),
        (person(adult=None), "age-unknown"),
        (person(pain="yes"), "pain"),
        (minor(guardian=None, release=release(by="Ann Field")), "minor-unsigned"),
        (minor(release=release(by="Somebody Else")), "minor-unsigned"),
        (minor(release=release()), "minor-unsigned"),
    ],
)
def test_each_bar_is_named_and_allows_no_use(who, expected):
    assert ids(who) == [expected]
    assert all(reason.word is NOT_USED for reason in consent_reasons(who, TODAY))
    assert uses_allowed(who, TODAY) == ()


def test_the_first_and_the_last_day_count():
    held = release(until=TODAY, **{"from": TODAY})
    assert ids(person(release=held)) == []


def test_a_minor_is_never_in_marketing_whatever_was_ticked():
    assert ids(minor()) == ["minor-marketing"]
    assert uses_allowed(minor(), TODAY) == ("web",)
    assert uses_allowed(person(release=release(**{"for": ["marketing"]})), TODAY) == ("marketing",)


def test_of_a_minor_the_first_name_is_shown_and_no_place():
    assert (shown_name(minor(place="Lindholm")), shown_place(minor(place="Lindholm"))) == ("Tom", "")
    assert (shown_name(person()), shown_place(person())) == ("Vera Lund", "Lindholm Bay")
    assert shown_name(person(adult=None)) == "Vera"
    assert shown_name(minor(shown="our young player")) == "our young player"
