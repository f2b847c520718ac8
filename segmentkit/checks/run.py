"""Runs the checks. This file knows nothing of golf, strokes or slots, and should stay so."""

from __future__ import annotations

import datetime
from collections.abc import Iterable

from segmentkit.checks.check import Check, Remark
from segmentkit.checks.context import CheckContext, ConsentContext
from segmentkit.checks.registry import ALL
from segmentkit.checks.rules import Rules
from segmentkit.delivery import Delivery
from segmentkit.findings import Finding, worst_first
from segmentkit.storyboard.load import LoadedStoryboard


def run_checks(context: CheckContext, rules: Rules | None = None) -> list[Finding]:
    """Everything there is to say about a storyboard and its plan, worst first.

    Args:
        context: what the checks look at.
        rules: the house's decisions; the shipped ones when left out.
    """
    rules = rules or Rules()
    findings: list[Finding] = []
    for check in ALL:
        if not rules.is_off(check):
            findings += _findings(check, check.judge(context, rules.limits), context.loaded, rules)
    return worst_first(findings)


def consent_checks(
    loaded: LoadedStoryboard, deliveries: tuple[Delivery, ...], today: datetime.date, rules: Rules | None = None
) -> list[Finding]:
    """What can be said about people and licences before any clip is opened, worst first.

    With an error among these, nothing of the segment may be decoded for a render.

    Args:
        loaded: the storyboard.
        deliveries: the profiles that are to be delivered.
        today: the day on which the releases must hold.
        rules: the house's decisions; the shipped ones when left out.
    """
    rules = rules or Rules()
    context = ConsentContext(loaded=loaded, deliveries=deliveries, today=today)
    findings: list[Finding] = []
    for check in ALL:
        if check.gate is not None and not rules.is_off(check):
            findings += _findings(check, check.gate(context, rules.limits), loaded, rules)
    return worst_first(findings)


def _findings(check: Check, remarks: Iterable[Remark], loaded: LoadedStoryboard, rules: Rules) -> list[Finding]:
    return [
        Finding(
            id=check.id,
            severity=rules.severity_of(check, remark),
            where=remark.where,
            what=remark.what,
            remedy=remark.remedy,
            place=loaded.place(*remark.path) if remark.path else None,
            numbers=remark.numbers,
        )
        for remark in remarks
    ]
