"""What, besides the plan, decides over pictures and sound: the code that makes them, the libraries, the fonts."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from pathlib import Path

import av
import cv2
import numpy as np
import PIL

from segmentkit import __version__
from segmentkit.media.store import sha256_of
from segmentkit.render.fonts import fallback_file
from segmentkit.storyboard.look import Look

_PACKAGE = Path(__file__).resolve().parent.parent
_MAKING = (
    "render/**/*.py", "geometry.py", "timebase.py", "plan/layout.py", "plan/model.py", "plan/pictures.py",
    "plan/sheets.py", "media/avframes.py", "media/bidi.py", "media/codecs.py",
    "media/depth.py", "media/encode.py", "media/frames.py", "media/interlace.py", "media/join.py", "media/loudness.py",
    "media/normalise.py", "media/planes.py", "media/sound.py", "media/stills.py", "media/typefaces.py",
)  # fmt: skip


@cache
def tools() -> tuple[str, ...]:
    """Versions of all that makes pictures and sound.

    The code is told by its own text, so that nothing old is used after a change to it; a version number would have to
    be raised by somebody each time.
    """
    digest = hashlib.sha256()
    for pattern in _MAKING:
        for path in sorted(_PACKAGE.glob(pattern)):
            digest.update(path.relative_to(_PACKAGE).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return (
        f"segmentkit {__version__} {digest.hexdigest()}", f"av {av.__version__} {sorted(av.library_versions.items())}",
        f"numpy {np.__version__}", f"opencv {cv2.__version__}", f"pillow {PIL.__version__}", platform.machine(),
    )  # fmt: skip


@cache
def look_data(look: Look) -> dict[str, object]:
    """All of a look that can be seen, as plain data: its fonts by their content, not by where they lie."""
    data: dict[str, object] = look.model_dump(mode="json", exclude={"name": True, "type": {"folder"}})
    folder = Path(look.type.folder)
    named = (look.type.regular, look.type.medium, look.type.bold)
    fallbacks = (fallback_file(name, folder) for name in look.type.fallback)
    files = [*(folder / name for name in named), *(path for path in fallbacks if path is not None)]
    return {**data, "fonts": [sha256_of(path) for path in files]}
