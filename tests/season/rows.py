"""Seasons of rows with records, for tests that open no clip: files hold a few bytes of their own."""

from __future__ import annotations

import datetime
from pathlib import Path

from segmentkit.media.store import Store
from segmentkit.season.entry import Entry
from segmentkit.season.ready import make_ready
from segmentkit.storyboard.season import load_season

TODAY = datetime.date(2028, 4, 1)
NAMES = ("Anna", "Bo", "Carla", "Dev", "Elif", "Finn")


def board(folder: Path, person: str, shown: str, **changes: str) -> None:
    """A storyboard of one viewer."""
    release = changes.get("release", f"{{for: [web], until: 2028-12-31, by: {shown}}}")
    say = f"\n    say: {changes['say']}" if "say" in changes else ""
    (folder / "storyboard.yaml").write_text(
        f"""segmentkit: 1
segment: {{title: One, slot: 2s}}
people: {{{person}: {{shown: {shown}, adult: yes, release: {release}}}}}
clips: {{swing: {{file: {changes.get("clip", "swing.mp4")}, person: {person}}}}}
voice: {{guide: none{", takes: " + changes["takes"] if "takes" in changes else ""}}}
beats:
  - beat: first{say}
    show:
      - run: {{clip: swing, speed: 1}}
    cards:
      - lower_third: {{person: {person}, at: 0.1s}}
"""
    )


def record(folder: Path, person: str, shown: str, clip: bytes, release: str = "") -> None:
    """An intake record with one swing."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "a.mp4").write_bytes(clip)
    release = release or f"{{for: [web], until: 2028-12-31, by: {shown}}}"
    (folder / "submissions.yaml").write_text(
        f"""intake: 1
people: {{{person}: {{shown: {shown}, adult: yes, release: {release}}}}}
submissions:
  {folder.name}: {{person: {person}, down-the-line: {{file: a.mp4}}}}
"""
    )


def rows(root: Path, count: int = 4, shift: int = 0) -> Path:
    """A table whose rows name storyboard, submission and name; submissions are shifted by so many rows."""
    lines = ["id,submission,storyboard,name,air"]
    for k in range(count):
        name = NAMES[k]
        folder = root / f"s{k}"
        folder.mkdir(parents=True, exist_ok=True)
        board(folder, name.lower(), name)
        (folder / "swing.mp4").write_bytes(f"clip of {name}".encode())
        record(root / "in" / f"s{k}", name.lower(), name, f"clip of {name}".encode())
        lines.append(f"s{k},in/s{(k + shift) % count},s{k}/storyboard.yaml,{name},2028-04-{k + 2:02}")
    path = root / "season.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def entries(path: Path, **changes: object) -> tuple[Entry, ...]:
    """Its items, made ready."""
    season = load_season(path)
    asked = {"today": TODAY, "rules": None, "final": True, "write": False, **changes}
    return make_ready(
        season, season.season.items, store=Store(path.parent / "store"), told=lambda *_: None, **asked
    )  # fmt: skip
