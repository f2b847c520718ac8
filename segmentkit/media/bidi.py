"""Text that runs both ways: levels of embedding, and the order in which stretches stand on the line.

Unicode Standard Annex 9 (the bidirectional algorithm) without explicit embeddings and isolates, which nobody types into
a card: rules P2-P3 (base direction), W1-W7 (weak), N1-N2 (neutral), I1-I2 (implicit levels), L1-L2 (order). Brackets
are treated as neutrals (N0 is left out), which is the same wherever both sides run one way.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

_STRONG = {"L", "R", "AL"}
_RIGHT = {"R", "AL", "AN"}
_NEUTRAL = {"B", "S", "WS", "ON", "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI", "BN", ""}


def runs_right(text: str) -> bool:
    """Whether any character of a text runs from right to left."""
    return any(unicodedata.bidirectional(c) in _RIGHT for c in text)


def base_level(text: str) -> int:
    """0 when a text runs from left to right as a whole, 1 when from right to left: its first strong letter says."""
    first = next((kind for c in text if (kind := unicodedata.bidirectional(c)) in _STRONG), "L")
    return 0 if first == "L" else 1


def levels(text: str, base: int) -> list[int]:
    """The level of each character: even runs to the right, odd to the left."""
    side = "R" if base else "L"
    kinds = _weak([unicodedata.bidirectional(c) for c in text], side)
    kinds = _neutral(kinds, side)
    found = [_implicit(kind, base) for kind in kinds]
    # L1: spaces at the end of the line stand at the end of the line.
    for k in range(len(text) - 1, -1, -1):
        if unicodedata.bidirectional(text[k]) not in {"WS", "BN", "B", "S"}:
            break
        found[k] = base
    return found


def _weak(kinds: list[str], side: str) -> list[str]:
    """W1 to W7: marks, numbers and what stands between numbers."""
    made = list(kinds)
    for k, kind in enumerate(made):
        if kind == "NSM":
            made[k] = made[k - 1] if k else side
    strong = side
    for k, kind in enumerate(made):
        if kind in _STRONG:
            strong = kind
        elif kind == "EN" and strong == "AL":
            made[k] = "AN"
    made = ["R" if kind == "AL" else kind for kind in made]
    for k in range(1, len(made) - 1):
        around = made[k - 1], made[k + 1]
        if (made[k] == "ES" and around == ("EN", "EN")) or (made[k] == "CS" and around in {("EN", "EN"), ("AN", "AN")}):
            made[k] = around[0]
    for start, end in _stretches(made, {"ET"}):
        if (start and made[start - 1] == "EN") or (end < len(made) and made[end] == "EN"):
            made[start:end] = ["EN"] * (end - start)
    made = ["ON" if kind in {"ES", "ET", "CS"} else kind for kind in made]
    strong = side
    for k, kind in enumerate(made):
        if kind in {"L", "R"}:
            strong = kind
        elif kind == "EN" and strong == "L":
            made[k] = "L"
    return made


def _neutral(kinds: list[str], side: str) -> list[str]:
    """N1 and N2: what has no direction takes that of both neighbours, else that of the whole."""
    made = list(kinds)
    for start, end in _stretches(made, _NEUTRAL):
        before = _way(made[start - 1]) if start else side
        after = _way(made[end]) if end < len(made) else side
        made[start:end] = [before if before == after else side] * (end - start)
    return made


def _way(kind: str) -> str:
    return "L" if kind == "L" else "R"


def _implicit(kind: str, base: int) -> int:
    if base % 2 == 0:
        return base + {"L": 0, "R": 1}.get(kind, 2)
    return base + {"R": 0}.get(kind, 1)


def _stretches(kinds: Sequence[str], wanted: set[str]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for k, kind in enumerate(kinds):
        if kind not in wanted:
            continue
        if found and found[-1][1] == k:
            found[-1] = found[-1][0], k + 1
        else:
            found.append((k, k + 1))
    return found


def visual_order(run_levels: Sequence[int]) -> list[int]:
    """L2: the order, from left to right, of stretches whose levels are given in the order of reading."""
    order = list(range(len(run_levels)))
    if not order:
        return order
    odd = [level for level in run_levels if level % 2]
    for level in range(max(run_levels), min(odd, default=max(run_levels) + 1) - 1, -1):
        start = 0
        while start < len(order):
            end = start
            while end < len(order) and run_levels[order[end]] >= level:
                end += 1
            if end > start:
                order[start:end] = order[start:end][::-1]
            start = end + 1
    return order
