"""Finds the looks, fonts and profiles that travel with segmentkit, in a checkout and in an installed wheel alike."""

from __future__ import annotations

from pathlib import Path

from segmentkit.errors import MediaUnusable

_PACKAGE = Path(__file__).resolve().parent


def templates_folder() -> Path:
    """The `templates` folder: inside the installed package, else beside it in a checkout."""
    for folder in (_PACKAGE / "templates", _PACKAGE.parent / "templates"):
        if folder.is_dir():
            return folder
    raise MediaUnusable(
        "templates — the folder with looks and fonts is missing beside the package — install segmentkit again"
    )
