"""The fonts of a look: by weight, with its fallbacks, and how tall their capitals are."""

from __future__ import annotations

import unicodedata
from pathlib import Path

from segmentkit.media.typefaces import FontFile, FontStack, Run, characters_of, fallback_file, opened
from segmentkit.storyboard.look import Look

__all__ = ["FontBook", "FontFile", "Run", "characters_of", "fallback_file", "missing_glyphs"]


class FontBook:
    """All fonts of a look, by weight: regular, medium, bold; then the fallbacks that are there."""

    def __init__(self, look: Look) -> None:
        folder = Path(look.type.folder)
        kind = look.type
        self.features = list(kind.features) or None
        self.weights = {
            name: opened(folder / file)
            for name, file in (("regular", kind.regular), ("medium", kind.medium), ("bold", kind.bold))
        }
        found = (fallback_file(name, folder) for name in kind.fallback)
        self.fallbacks = tuple(opened(path) for path in found if path is not None)

    def runs(self, text: str, weight: str) -> list[Run]:
        """Stretches of a line, each in one font and one direction, from left to right; see `FontStack.runs`."""
        return self._stack(weight).runs(text)

    def _stack(self, weight: str) -> FontStack:
        return FontStack(self.weights[weight], self.fallbacks)

    def cap_height(self, weight: str, size: float) -> float:
        """Height of a capital H in pixels, from the outline, at a size in pixels."""
        _, top, _, bottom = self.weights[weight].sized(1000).getbbox("H", anchor="ls")
        return (bottom - top) * size / 1000

    def lacking(self, text: str) -> str:
        """The characters of a text, each once, for which no font of the look has a glyph."""
        text = unicodedata.normalize("NFC", text)
        return "".join(dict.fromkeys("".join(self._stack(weight).absent(text) for weight in self.weights)))


def missing_glyphs(text: str, look: Look) -> str:
    """The characters of a text, each once and in order, that no font of the look can draw; empty when all is well."""
    return FontBook(look).lacking(text)
