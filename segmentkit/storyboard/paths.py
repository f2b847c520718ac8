"""Which paths a storyboard may name: none that leads out of its folder."""

from __future__ import annotations

import re


def leaves_folder(file: str) -> str | None:
    """Why a path may not be followed, or None: a storyboard from elsewhere must not reach into other folders."""
    parts = re.split(r"[/\\]", file)
    if "://" in file:
        return "this is an address, not a file"
    if parts[0] in {"", "~"} or re.match(r"[A-Za-z]:", file):
        return "the path starts outside the storyboard's folder"
    if ".." in parts:
        return "the path climbs out of its folder with `..`"
    return None
