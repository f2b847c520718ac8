"""Characters of looks: forms of cards, grounds, plain backgrounds and ways to come in; layouts are shared by all.

A look file names one. What is written where is decided by the layouts (`boards`, `plates`); a character is asked for
the room that it keeps for type and for the shapes under it.
"""

from __future__ import annotations

from segmentkit.render.characters.base import Character
from segmentkit.render.characters.contour import Contour
from segmentkit.render.characters.dune import Dune
from segmentkit.render.characters.pennant import Pennant

__all__ = ["Character", "character_of"]

_ALL: dict[str, Character] = {"contour": Contour(), "dune": Dune(), "pennant": Pennant()}


def character_of(name: str) -> Character:
    """The character that a look names."""
    return _ALL[name]
