"""Reads the tables of faults: a text or a change, and below it each fault that must be found, in order."""

from __future__ import annotations

from pathlib import Path

from segmentkit.storyboard.faults import Fault

HERE = Path(__file__).parent


def table(name: str) -> list[tuple[str, list[str]]]:
    """Rows of a table: what is read, and the faults as `line:column: message | characters shown`."""
    rows: list[tuple[str, list[str]]] = []
    for line in (HERE / name).read_text("utf-8").splitlines()[1:]:
        if line.startswith("    "):
            rows[-1][1].append(line.strip())
        else:
            rows.append((line, []))
    return rows


def unescaped(text: str) -> str:
    r"""A text in which `\n`, `\r` and `\t` stand for themselves and a doubled backslash for one."""
    marked = text.replace("\\\\", "\0")
    return marked.replace("\\n", "\n").replace("\\r", "\r").replace("\\t", "\t").replace("\0", "\\")


def as_rows(faults: tuple[Fault, ...], file: str) -> list[str]:
    """Faults in the form of a table."""
    shown = [(fault.headline.removeprefix(f"{file}:"), fault.source[fault.first :][: fault.length]) for fault in faults]
    return [f"{headline} | {characters}".strip() for headline, characters in shown]
