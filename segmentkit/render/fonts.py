"""The fonts of a look: which files, which glyphs they have, how tall their capitals are."""

from __future__ import annotations

import struct
import unicodedata
from functools import cached_property
from pathlib import Path

from PIL import ImageFont

from segmentkit.errors import MediaUnusable
from segmentkit.storyboard.look import Look

_SFNT = {b"\x00\x01\x00\x00", b"OTTO", b"true"}
# Marks that steer shaping or line breaks and have no shape of their own: format characters and variation selectors.
_SHAPELESS = {"Cc", "Cf", "Zs", "Zl", "Zp"}


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
    if data[:4] not in _SFNT:
        raise ValueError("not an sfnt file")
    count = struct.unpack_from(">H", data, 4)[0]
    tables = {data[12 + 16 * k : 16 + 16 * k]: struct.unpack_from(">I", data, 20 + 16 * k)[0] for k in range(count)}
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


def _has_shape(character: str) -> bool:
    return unicodedata.category(character) not in _SHAPELESS and not 0xFE00 <= ord(character) <= 0xFE0F


class FontBook:
    """All fonts of a look, by weight: regular, medium, bold; then the fallbacks."""

    def __init__(self, look: Look) -> None:
        folder = Path(look.type.folder)
        kind = look.type
        self.weights = {
            name: FontFile(folder / file)
            for name, file in (("regular", kind.regular), ("medium", kind.medium), ("bold", kind.bold))
        }
        self.fallbacks = tuple(FontFile(folder / file) for file in kind.fallback)

    def runs(self, text: str, weight: str) -> list[tuple[FontFile, str]]:
        """Splits a text into stretches, each with the first font that has all its glyphs.

        A text that one font can set alone is not split, so that joined and right-to-left scripts keep their shape.
        """
        fonts = (self.weights[weight], *self.fallbacks)
        for font in fonts:
            if not font.lacks(text):
                return [(font, text)]
        runs: list[tuple[FontFile, str]] = []
        for character in text:
            has = [font for font in fonts if not font.lacks(character)]
            # A space or a comma stays with the run before it, to be shaped with its neighbours.
            font = runs[-1][0] if runs and (runs[-1][0] in has or not has) else (has or fonts)[0]
            if runs and runs[-1][0] is font:
                runs[-1] = (font, runs[-1][1] + character)
            else:
                runs.append((font, character))
        return runs

    def cap_height(self, weight: str, size: float) -> float:
        """Height of a capital H in pixels, from the outline, at a size in pixels."""
        _, top, _, bottom = self.weights[weight].sized(1000).getbbox("H", anchor="ls")
        return (bottom - top) * size / 1000

    def lacking(self, text: str) -> str:
        """The characters of a text, each once, for which no font of the look has a glyph."""
        missing = self.weights["regular"].lacks(unicodedata.normalize("NFC", text))
        for font in self.fallbacks:
            missing = font.lacks(missing)
        return missing


def missing_glyphs(text: str, look: Look) -> str:
    """The characters of a text, each once and in order, that no font of the look can draw; empty when all is well."""
    return FontBook(look).lacking(text)
