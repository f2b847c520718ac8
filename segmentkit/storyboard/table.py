"""Reads a table (CSV, RFC 4180) into a located tree, so that its faults are told like those of any other text.

Spreadsheets write commas or semicolons, with or without a mark at the start (U+FEFF); both are read.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.storyboard.compose import Entry, Listing, Mapping, Scalar
from segmentkit.storyboard.faults import Fault, Source


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its characters in the text, quotes included, and its content."""

    start: int
    end: int
    text: str


class TableSource(Source):
    """The text of a table; its faults say row and column as a spreadsheet counts them, the heads being row 1."""

    def __init__(self, text: str, file: str) -> None:
        super().__init__(text, file)
        self.rows = tuple(_rows(text))
        self._begins = [row[0].start for row in self.rows]

    @property
    def columns(self) -> tuple[str, ...]:
        """The heads."""
        return tuple(cell.text.strip() for cell in self.rows[0]) if self.rows else ()

    def where(self, index: int) -> str:
        """What a person calls the cell that holds a character: `row 7, column air`."""
        if not self.rows:
            return ""
        number = max(0, bisect_right(self._begins, index) - 1)
        row = self.rows[number]
        column = max(0, bisect_right([cell.start for cell in row], index) - 1)
        name = self.columns[column] if column < len(self.columns) else str(column + 1)
        return f"row {number + 1}, column {name}"

    def fault(self, start: int, end: int, message: str, where: str = "") -> Fault:
        """A fault at characters of the text; it is called by row and column, whatever else it would be called."""
        del where
        return super().fault(start, end, message, self.where(start))


def read_table(source: TableSource, list_key: str, nested: str) -> tuple[Mapping, tuple[Fault, ...]]:
    """A table as a mapping with one list, in which each row is a mapping by the names of its columns.

    Args:
        source: the table.
        list_key: the key of the list.
        nested: columns `nested.x` become one mapping under the key `nested`.

    Returns:
        The tree, and what keeps the table from being one: rows that are too long, heads that are missing or doubled.
    """
    faults: list[Fault] = []
    heads = source.rows[0] if source.rows else ()
    seen: set[str] = set()
    for cell in heads:
        name = cell.text.strip()
        if not name or name in seen:
            what = f"`{name}` heads two columns" if name else "a column has no name"
            faults.append(source.fault(cell.start, cell.end, f"{what} — give each a name of its own"))
        seen.add(name)
    if not heads:
        faults.append(source.fault(0, 1, "the table is empty — the first row names the columns, such as id, air"))
    rows = Listing(0, len(source.text), flow=False)
    for row in source.rows[1:]:
        if not any(cell.text.strip() for cell in row):
            continue
        for cell in row[len(heads) :]:
            if cell.text.strip():
                faults.append(source.fault(cell.start, cell.end, "stands beyond the last column — a comma too many?"))
        if row[-1].text.count("\n") > 20:
            faults.append(source.fault(row[-1].start, row[-1].start + 1, "the quotes opened here are never closed"))
        rows.items.append(_row(heads, row, nested))
    entry = Entry(Scalar(0, 0, list_key), rows)
    return Mapping(0, len(source.text), flow=False, entries={list_key: entry}), tuple(faults)


def _row(heads: tuple[Cell, ...], row: tuple[Cell, ...], nested: str) -> Mapping:
    made = Mapping(row[0].start, row[-1].end, flow=False)
    inner: Mapping | None = None
    for head, cell in zip(heads, row, strict=False):
        if not cell.text.strip():
            continue  # an empty cell is a key that was left out
        name = head.text.strip()
        key, value = Scalar(cell.start, cell.end, name), Scalar(cell.start, cell.end, cell.text.strip())
        if name.startswith(f"{nested}."):
            if inner is None:
                inner = Mapping(cell.start, cell.end, flow=False)
                made.entries[nested] = Entry(Scalar(cell.start, cell.end, nested), inner)
            inner.entries[name.removeprefix(f"{nested}.")] = Entry(key, value)
        else:
            made.entries[name] = Entry(key, value)
    return made


def _rows(text: str) -> Iterator[tuple[Cell, ...]]:
    """The rows with their cells; empty lines are passed over."""
    at = 1 if text.startswith("\ufeff") else 0
    first = text[at:].splitlines()[0] if text[at:].strip() else ""
    comma = ";" if first.count(";") > first.count(",") else ","
    row: list[Cell] = []
    while at < len(text):
        cell, at = _cell(text, at, comma)
        row.append(cell)
        if at < len(text) and text[at] == comma:
            at += 1
            if at == len(text):
                row.append(Cell(at, at, ""))
            continue
        if any(one.text.strip() for one in row):
            yield tuple(row)
        row = []
        at += 2 if text[at : at + 2] == "\r\n" else 1
    if any(one.text.strip() for one in row):
        yield tuple(row)


def _cell(text: str, at: int, comma: str) -> tuple[Cell, int]:
    """The cell that starts at a character, and where it ends."""
    start = at
    if text[at : at + 1] != '"':
        while at < len(text) and text[at] not in (comma, "\r", "\n"):
            at += 1
        return Cell(start, at, text[start:at]), at
    content: list[str] = []
    at += 1
    while at < len(text):
        close = text.find('"', at)
        close = len(text) if close < 0 else close
        content.append(text[at:close])
        if text[close + 1 : close + 2] == '"':  # a doubled quote stands for one (RFC 4180, 2.7)
            content.append('"')
            at = close + 2
            continue
        at = min(len(text), close + 1)
        break
    while at < len(text) and text[at] not in (comma, "\r", "\n"):
        content.append(text[at])
        at += 1
    return Cell(start, at, "".join(content)), at
