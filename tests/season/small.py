"""Small seasons without swings: coded clips, short slots, so that a whole run takes seconds."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from tests.clips import Track, beep, make_clip, steady

BOARD = """\
segmentkit: 1
segment: {{title: {title}, slot: {slot}, rate: 25, size: 160x90}}
people:
  {id}: {{shown: {shown}, adult: yes, release: {{for: [web, broadcast], by: {shown}{until}}}}}
clips:
  coded: {{file: coded.mp4, person: {id}}}
beats:
  - beat: first
    show:
      - freeze: {{clip: coded, at: {frame}, hold: 0.4s..9s}}
"""


@cache
def clip(number: int) -> Path:
    """A clip of its own for each number."""
    path = Path(mkdtemp()) / f"{number}.mp4"
    return make_clip(path, steady(20 + number, 1), tracks=[Track(samples=beep(1.0, [0.1 + 0.05 * number]))])


def item(
    folder: Path, name: str, number: int, *, shown: str = "", slot: str = "1s", until: str = "", frame: str = "f4"
) -> str:
    """An item's folder with a storyboard and a clip; returns its line for the season."""
    place = folder / name
    place.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(clip(number), place / "coded.mp4")
    shown = shown or f"Viewer{number}"
    text = BOARD.format(
        title=f"Item {name}", slot=slot, id=shown.lower(), shown=shown, until=f", until: {until}" if until else "",
        frame=frame,
    )  # fmt: skip
    (place / "storyboard.yaml").write_text(text)
    return f"  - {{id: {name}, storyboard: {name}/storyboard.yaml, air: 2028-04-{number + 1:02}}}\n"


def season(folder: Path, count: int, deliver: str = "web") -> Path:
    """A season of that many items."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = [item(folder, f"s{number}", number) for number in range(count)]
    path = folder / "season.yaml"
    path.write_text(f"season: Small\ndeliver: [{deliver}]\nitems:\n{''.join(lines)}")
    return path
