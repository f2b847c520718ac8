"""Fonts: which glyphs a file has, and which of several files draws which part of a line."""

from __future__ import annotations

import struct
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

from PIL import ImageFont

from segmentkit.errors import MediaUnusable
from segmentkit.media import bidi
from segmentkit.resources import templates_folder

_SFNT = {b"\x00\x01\x00\x00", b"OTTO", b"true"}
# Marks that steer shaping or line breaks and have no shape of their own: format characters and variation selectors.
_SHAPELESS = {"Cc", "Cf", "Zs", "Zl", "Zp"}
SYSTEM_FOLDERS = (
    Path("/usr/share/fonts/opentype/noto"),
    Path("/usr/share/fonts/truetype/noto"),
    Path("/usr/share/fonts/noto-cjk"),
    Path("/usr/share/fonts/google-noto-cjk"),
    Path("/usr/share/fonts/noto"),
    Path("/Library/Fonts"),
    Path("C:/Windows/Fonts"),
)
"""Where a fallback of a look is looked for when it does not travel with it: scripts whose fonts are too large to."""


def characters_of(path: Path) -> frozenset[int]:
    """The code points for which a TrueType or OpenType file has a glyph.

    Reads the `cmap` table, formats 4 and 12 (OpenType 1.9, chapter cmap), which between them every modern font has.

    Raises:
        MediaUnusable: when the file is no such font.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise MediaUnusable(
            f"font {path} — cannot be read ({error.strerror}) — look for it where the look says"
        ) from None
    try:
        return _read_cmap(data)
    except (struct.error, ValueError, IndexError):
        raise MediaUnusable(
            f"font {path} — is no TrueType or OpenType font with a Unicode table — give a .ttf or .otf file"
        ) from None


def _read_cmap(data: bytes) -> frozenset[int]:
    # A collection: the first of its fonts, which is the one that is opened.
    first = struct.unpack_from(">I", data, 12)[0] if data[:4] == b"ttcf" else 0
    if data[first : first + 4] not in _SFNT:
        raise ValueError("not an sfnt file")
    count = struct.unpack_from(">H", data, first + 4)[0]
    records = [first + 12 + 16 * k for k in range(count)]
    tables = {data[at : at + 4]: struct.unpack_from(">I", data, at + 8)[0] for at in records}
    start = tables.get(b"cmap")
    if start is None:
        raise ValueError("no cmap")
    found: set[int] = set()
    for k in range(struct.unpack_from(">H", data, start + 2)[0]):
        platform, _, offset = struct.unpack_from(">HHI", data, start + 4 + 8 * k)
        if platform not in {0, 3}:
            continue
        at = start + offset
        match struct.unpack_from(">H", data, at)[0]:
            case 4:
                found |= _format_4(data, at)
            case 12:
                found |= _format_12(data, at)
            case _:
                pass
    if not found:
        raise ValueError("no Unicode cmap")
    return frozenset(found)


def _format_4(data: bytes, at: int) -> set[int]:
    segments = struct.unpack_from(">H", data, at + 6)[0] // 2
    fields = [
        struct.unpack_from(f">{segments}{kind}", data, at + 14 + skip + 2 * segments * k)
        for k, (kind, skip) in enumerate([("H", 0), ("H", 2), ("h", 2), ("H", 2)])
    ]
    found: set[int] = set()
    ranges_at = at + 16 + 6 * segments
    for k, (end, start, delta, offset) in enumerate(zip(*fields, strict=True)):
        for code in range(start, min(end, 0xFFFE) + 1):
            if offset:
                glyph = struct.unpack_from(">H", data, ranges_at + 2 * k + offset + 2 * (code - start))[0]
                glyph = (glyph + delta) % 65536 if glyph else 0
            else:
                glyph = (code + delta) % 65536
            if glyph:
                found.add(code)
    return found


def _format_12(data: bytes, at: int) -> set[int]:
    found: set[int] = set()
    for k in range(struct.unpack_from(">I", data, at + 12)[0]):
        start, end, glyph = struct.unpack_from(">III", data, at + 16 + 12 * k)
        if end - start > 0x110000:
            raise ValueError("a group of the cmap is too long")
        found.update(range(start if glyph else start + 1, end + 1))
    return found


class FontFile:
    """One font file; sizes are opened when they are first asked for."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._sizes: dict[float, ImageFont.FreeTypeFont] = {}

    @cached_property
    def characters(self) -> frozenset[int]:
        """The code points it has glyphs for."""
        return characters_of(self.path)

    def lacks(self, text: str) -> str:
        """The characters of a text, each once and in order, that it has no glyph for."""
        return "".join(dict.fromkeys(c for c in text if _has_shape(c) and ord(c) not in self.characters))

    def sized(self, size: float) -> ImageFont.FreeTypeFont:
        """The font at a size in pixels.

        Raises:
            MediaUnusable: when the file cannot be opened as a font.
        """
        size = round(max(1.0, size), 2)
        if size not in self._sizes:
            try:
                self._sizes[size] = ImageFont.truetype(str(self.path), size)
            except OSError as error:
                raise MediaUnusable(
                    f"font {self.path} — cannot be opened ({error}) — give a .ttf or .otf file"
                ) from None
        return self._sizes[size]


@cache
def opened(path: Path) -> FontFile:
    """One object a file: looks and canvases share it, so that a large font is read once."""
    return FontFile(path)


def _has_shape(character: str) -> bool:
    return unicodedata.category(character) not in _SHAPELESS and not 0xFE00 <= ord(character) <= 0xFE0F


def fallback_file(name: str, folder: Path) -> Path | None:
    """The file of a fallback: beside the look's fonts, among the shipped ones, else where systems keep theirs.

    Args:
        name: as the look says it: a file name, or `folder/file` among the shipped fonts.
        folder: of the look's own fonts.
    """
    places = (folder, templates_folder() / "fonts", *SYSTEM_FOLDERS)
    return next((place / name for place in places if (place / name).is_file()), None)


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a line that one font draws in one direction, its characters in the order of reading."""

    font: FontFile
    text: str
    leftwards: bool = False


class FontStack:
    """A font and those that stand in for it, best first."""

    def __init__(self, first: FontFile, fallbacks: Sequence[FontFile] = ()) -> None:
        self.fonts = (first, *fallbacks)

    def runs(self, text: str) -> list[Run]:
        """Splits a line into stretches, from left to right as they stand on it.

        Each stretch has one font and one direction, so that joined scripts keep their shape. A character that no font
        has comes out as a question mark (and the checks say so), never as a box.
        """
        absent = self.absent(text)
        if absent:
            text = "".join("?" if character in absent else character for character in text)
        cut = self._cut(text)
        if not bidi.runs_right(text):
            return [Run(font, part) for font, part in cut]
        levels = bidi.levels(text, bidi.base_level(text))
        pieces: list[tuple[FontFile, str, int]] = []
        at = 0
        for font, part in cut:
            for character in part:
                if pieces and pieces[-1][0] is font and pieces[-1][2] == levels[at]:
                    pieces[-1] = (font, pieces[-1][1] + character, levels[at])
                else:
                    pieces.append((font, character, levels[at]))
                at += 1
        order = bidi.visual_order([level for _, _, level in pieces])
        return [Run(pieces[k][0], pieces[k][1], pieces[k][2] % 2 == 1) for k in order]

    def absent(self, text: str) -> str:
        """The characters of a text, each once and in order, for which no font has a glyph."""
        missing = text
        for font in self.fonts:
            missing = font.lacks(missing)
        return missing

    def _cut(self, text: str) -> list[tuple[FontFile, str]]:
        """Stretches of one font each, in the order of reading."""
        if not self.fonts[0].lacks(text):
            return [(self.fonts[0], text)]
        cut: list[tuple[FontFile, str]] = []
        for cluster in _clusters(text):
            has = [font for font in self.fonts if not font.lacks(cluster)]
            # Spaces and stops stay with the run before them, to be shaped with their neighbours; letters go home.
            stays = bool(cut) and (not cluster[0].isalnum() or cut[-1][0] is self.fonts[0]) and cut[-1][0] in has
            font = cut[-1][0] if cut and (stays or not has) else (has or self.fonts)[0]
            if cut and cut[-1][0] is font:
                cut[-1] = (font, cut[-1][1] + cluster)
            else:
                cut.append((font, cluster))
        return cut


def _clusters(text: str) -> list[str]:
    """Letters with the marks that stand on them; a mark from another font would miss its letter."""
    found: list[str] = []
    for character in text:
        if found and (unicodedata.category(character) in {"Mn", "Me", "Mc"} or character in "\u200c\u200d\ufe0e\ufe0f"):
            found[-1] += character
        else:
            found.append(character)
    return found
