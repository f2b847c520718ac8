"""Small plots as SVG that takes the width it is given: lengths in per cent, letters in pixels, colours from the page.

So one drawing reads on a telephone and on paper, in light and in dark. No colour carries a meaning alone: each bar has
its number beside it, each mark its letter.
"""

from __future__ import annotations

import calendar
import datetime
from collections.abc import Mapping, Sequence
from html import escape

from segmentkit.season.report import Airing

_ROW = 26


def bars(counts: Sequence[tuple[str, int]], letters: Mapping[str, str] | None = None) -> str:
    """Bars from the left, each with its name and its number.

    Args:
        counts: name and number, in order.
        letters: a letter for some names, as the calendar has them.
    """
    if not counts:
        return '<p class="quiet">nothing to count</p>'
    most = max(count for _, count in counts)
    rows = []
    for index, (name, count) in enumerate(counts):
        y = index * _ROW
        letter = (letters or {}).get(name, "")
        shown = f"{letter} · {name}" if letter else name
        rows.append(
            f'<text x="0" y="{y + 17}">{escape(shown)}</text>'
            f'<rect class="bar" x="46%" y="{y + 4}" width="{46 * count / most:.2f}%" height="17" rx="2"/>'
            f'<text class="n" x="{46 + 46 * count / most + 1.2:.2f}%" y="{y + 17}">{count}</text>'
        )
    return _svg("".join(rows), len(counts) * _ROW, f"Bars: {', '.join(f'{name} {count}' for name, count in counts)}")


def calendar_plot(airings: Sequence[Airing], letters: Mapping[str, str], clashing: set[datetime.date]) -> str:
    """A row a month, a mark a day on air; the letter says what it teaches, a ring that it is too like its neighbour."""
    if not airings:
        return '<p class="quiet">no item has a day yet</p>'
    months: list[tuple[int, int]] = []
    year, month = airings[0].day.year, airings[0].day.month
    while (year, month) <= (airings[-1].day.year, airings[-1].day.month):
        months.append((year, month))
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    rows = []
    high = 38
    for index, (year, month) in enumerate(months):
        y = index * high + high / 2
        last = calendar.monthrange(year, month)[1]
        rows.append(
            f'<text x="0" y="{y + 5}">{calendar.month_abbr[month]} {year % 100:02}</text>'
            f'<line class="axis" x1="{_day(1):.2f}%" x2="{_day(last):.2f}%" y1="{y}" y2="{y}"/>'
        )
        rows += [
            f'<line class="axis" x1="{_day(day):.2f}%" x2="{_day(day):.2f}%" y1="{y - 3}" y2="{y + 3}"/>'
            for day in range(1, last + 1, 7)
        ]
        for airing in airings:
            if (airing.day.year, airing.day.month) == (year, month):
                ring = " clash" if airing.day in clashing else ""
                back = " (follow-up)" if airing.follows else ""
                at, letter = f"{_day(airing.day.day):.2f}%", letters.get(airing.fault, "–")
                rows.append(
                    f'<g class="mark{ring}"><title>{airing.day}: {escape(airing.fault)}{back}</title>'
                    f'<circle cx="{at}" cy="{y}" r="11"/><text class="in" x="{at}" y="{y + 5}">{letter}</text></g>'
                )
    told = "; ".join(f"{airing.day} {airing.fault}" for airing in airings)
    return _svg("".join(rows), len(months) * high, f"Days on air: {told}")


def _day(day: int) -> float:
    return 17 + (day - 1) / 30 * 79


def spread(values: Sequence[int], median: float | None, ninety: float | None, unit: str) -> str:
    """A dot a value on one line, equal ones above one another, with the median and the limit of nine in ten."""
    if not values or median is None or ninety is None:
        return '<p class="quiet">not known yet: it takes a day of receipt and a day on air</p>'
    top = max(values) or 1
    tallest = max(values.count(value) for value in set(values))
    base = 34 + 12 * tallest
    parts = [f'<line class="axis" x1="2%" x2="98%" y1="{base}" y2="{base}"/>']
    for value in sorted(set(values)):
        parts += [
            f'<circle class="dot" cx="{_along(value, top):.2f}%" cy="{base - 8 - 12 * k}" r="4.5"/>'
            for k in range(values.count(value))
        ]
    for step in _steps(top):
        parts.append(f'<text class="tick" x="{_along(step, top):.2f}%" y="{base + 18}">{step}</text>')
    stats = ((median, "median", 26), (ninety, "nine in ten", 12))
    for number, _, y in stats:
        at = f"{_along(number, top):.2f}%"
        parts.append(f'<line class="stat" x1="{at}" x2="{at}" y1="{y - 9}" y2="{base}"/>')
    for number, word, y in stats:  # over the lines, so that a word is never crossed out
        at_side = _along(number, top)
        side, by = ("end", -1) if at_side > 55 else ("start", 1)
        parts.append(f'<text class="n" text-anchor="{side}" x="{at_side + by:.2f}%" y="{y}">{word} {number:g}</text>')
    return _svg("".join(parts), base + 24, f"{unit}: median {median:g}, nine in ten within {ninety:g}")


def _along(value: float, top: float) -> float:
    return 3 + 94 * value / top


def _steps(top: float) -> list[int]:
    """Round numbers along an axis, four to seven of them: 1, 2 or 5 times a power of ten apart."""
    step = 1
    for candidate in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000):
        step = candidate
        if top / candidate <= 6:
            break
    return list(range(0, int(top) + 1, step))


def _svg(inner: str, height: float, told: str) -> str:
    return f'<svg width="100%" height="{height:g}" role="img" aria-label="{escape(told, quote=True)}">{inner}</svg>'
