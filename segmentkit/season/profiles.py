"""The profiles of an item: shipped ones by name, a house's own by its path from the storyboard."""

from __future__ import annotations

from segmentkit.delivery import Delivery
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.profiles import delivery, delivery_name, is_profile_path


def profile(name: str, loaded: LoadedStoryboard) -> Delivery:
    """A profile as a storyboard finds it.

    Raises:
        StoryboardUnreadable: when there is none, or its file has faults.
    """
    folder = loaded.folder
    if is_profile_path(name) and not (folder / name).is_file() and (folder.parent / name).is_file():
        folder = folder.parent  # the season's, from where it is brought when the item is filled
    return delivery(name, folder)


def file_name(item: str, name: str, to: Delivery) -> str:
    """The delivered file's name in the item's folder."""
    return f"{item}-{delivery_name(name)}{to.suffix}"
