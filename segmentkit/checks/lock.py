"""A locked segment: whatever changes after the signature is said loudly."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import counted, listed
from segmentkit.findings import Severity

_NAMED = 6


@check("lock-broken", Severity.ERROR)
def lock_broken(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Somebody signed this picture and these words; what goes on air must be what was signed.

    The lock holds a hash of the storyboard and of every file that goes into the segment. Any change breaks it, a comma
    included, and nothing is rendered until a person has looked at the changes and locked again, or taken the lock off.
    """
    del limits
    lock = context.lock
    if lock is None or not lock.changed:
        return
    count = len(lock.changed)
    more = count - _NAMED
    named = listed([*lock.changed[:_NAMED], *([f"{more} more"] if more > 0 else [])])
    yield Remark(
        where="segment",
        what=f"{counted(count, 'input')} changed since version {lock.version} was locked by {lock.by} on {lock.on}: "
        f"{named} — a locked segment stays as it was signed",
        remedy="look at `segmentkit review changes`, then lock a new version, or take the lock off",
        path=("segment",),
        numbers=(("changed", count), ("version", lock.version)),
    )
