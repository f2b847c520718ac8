"""Which files a storyboard is made from, for whoever waits for one of them to be saved."""

from __future__ import annotations

from pathlib import Path

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.load_look import look_file
from segmentkit.storyboard.presets import FOLDER
from segmentkit.storyboard.profiles import is_profile_path
from segmentkit.storyboard.submission import WITHDRAWN


def sources(loaded: LoadedStoryboard) -> tuple[Path, ...]:
    """Files and folders that a storyboard names or that are read beside it, whether they are there or not.

    Of a folder, what lies directly in it counts. What travels with segmentkit is left out, but for the look.
    """
    board, folder = loaded.board, loaded.folder
    try:
        look = look_file(board.look, folder)
    except StoryboardUnreadable:
        look = folder / board.look  # it may be on its way
    own = [name for name in board.deliver if is_profile_path(name)]
    above = folder.absolute()
    found = [
        look,
        *(folder / clip.file for clip in board.clips.values()),
        *(folder / still.file for still in board.stills.values()),
        *(folder / cue.file for cue in board.music),
        *(folder / name for name in own),
        *([folder / board.voice.takes] if board.voice.takes else []),
        folder / FOLDER,
        *(place / WITHDRAWN for place in (above, *above.parents)),
    ]
    return tuple(dict.fromkeys(found))
