"""Caption files beside a movie, read back as whoever plays them would."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from segmentkit.deliver.captions_srt import read_srt
from segmentkit.deliver.captions_ttml import read_ttml
from segmentkit.deliver.captions_vtt import read_vtt
from segmentkit.errors import MediaUnusable
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.screened import Sidecar
from segmentkit.timebase import Rate

_ENDINGS = (".vtt", ".srt", ".ttml", ".xml")
_FOOT = CaptionPlace(top=False, edge=90, centre=50, size=80, usual=True)


def sidecars_beside(folder: Path, stem: str, rate: Rate) -> tuple[Sidecar, ...]:
    """The caption files of a movie: beside it or in `captions`, named like it; chapters are none."""
    return tuple(read_sidecar(path, rate) for path in sorted(_found(folder, stem)))


def _found(folder: Path, stem: str) -> Iterator[Path]:
    for place in (folder, folder / "captions"):
        if place.is_dir():
            for path in place.iterdir():
                named = path.name.startswith(f"{stem}.") and path.suffix in _ENDINGS
                if named and not path.name.startswith(f"{stem}.chapters.") and path.is_file():
                    yield path


def read_sidecar(path: Path, rate: Rate) -> Sidecar:
    """A caption file with the frames of its captions, or with why it cannot be read."""
    try:
        cues = _captions(path, path.read_text("utf-8-sig"), rate)
    except UnicodeDecodeError:
        return Sidecar(path=path, fault="it is not UTF-8", cues=())
    except (MediaUnusable, OSError, ValueError) as error:
        return Sidecar(path=path, fault=" ".join(str(error).split()), cues=())
    return Sidecar(path=path, fault="", cues=tuple(one.span for one in cues))


def _captions(path: Path, text: str, rate: Rate) -> tuple[Caption, ...]:
    match path.suffix:
        case ".vtt":
            return read_vtt(text, rate, _FOOT)
        case ".srt":
            return read_srt(text, rate, _FOOT)
        case _:
            return read_ttml(text, rate)
