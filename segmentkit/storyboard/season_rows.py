"""Takes items out of a season's text, so that everything else stays as a person wrote it."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.storyboard.compose import Listing
from segmentkit.storyboard.faults import unreadable
from segmentkit.storyboard.season import LoadedSeason
from segmentkit.storyboard.table import TableSource


def without_items(loaded: LoadedSeason, ids: set[str]) -> str:
    """A season's text without some of its items; comments of other items stay.

    Raises:
        StoryboardUnreadable: when the items stand inside brackets, where they cannot be cut out by lines, or no item
            would be left.
    """
    text = loaded.source.text
    if all(item.id in ids for item in loaded.season.items):
        what = "nothing would be left of the season — take the season's file away by hand"
        raise unreadable([loaded.fault(loaded.season.items[0].id, what, "id")])
    spans = _rows(loaded, ids) if isinstance(loaded.source, TableSource) else _entries(loaded, ids)
    for start, end in reversed(list(spans)):
        text = text[:start] + text[end:]
    return text


def _rows(loaded: LoadedSeason, ids: set[str]) -> Iterator[tuple[int, int]]:
    source = loaded.source
    assert isinstance(source, TableSource)
    column = source.columns.index("id")
    for number, row in enumerate(source.rows):
        if number and len(row) > column and row[column].text.strip() in ids:
            end = source.rows[number + 1][0].start if number + 1 < len(source.rows) else len(source.text)
            yield row[0].start, end


def _entries(loaded: LoadedSeason, ids: set[str]) -> Iterator[tuple[int, int]]:
    source, text = loaded.source, loaded.source.text
    listing = loaded.tree.entries["items"].value if hasattr(loaded.tree, "entries") else None
    assert isinstance(listing, Listing)
    for item, node in zip(loaded.season.items, listing.items, strict=True):
        if item.id not in ids:
            continue
        start = source.line_start(node.start)
        if text[start : node.start].strip() != "-":
            raise unreadable([source.fault(node.start, node.end, "stands inside brackets — take it out by hand")])
        indent = text[start : node.start].index("-")
        end = start
        for number, line in enumerate(text[start:].splitlines(keepends=True)):
            if number and line.strip() and len(line) - len(line.lstrip(" ")) <= indent:
                break
            end += len(line)
        kept = text[start:end]
        yield start, start + len(kept.rstrip()) + (1 if kept.rstrip() != kept else 0)
