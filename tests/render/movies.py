"""A small segment with a title, strokes, cards, a dissolve and two takes, for tests of how movies are put together."""

from __future__ import annotations

from pathlib import Path

from segmentkit.media.sound import write_wav
from segmentkit.media.store import Store
from segmentkit.pipeline import Checked, check
from segmentkit.render.movie import make_movie
from segmentkit.storyboard.profiles import delivery
from tests.clips import Track, beep, make_clip, steady

BOARD = """
segmentkit: 1
segment: {title: Pieces, slot: 12s, rate: 25, size: 320x180}
clips:
  coded: {file: coded.mp4, positions: {here: f40, there: f50}}
voice: {takes: takes, lead: 0.2s, tail: 0.1s}
beats:
  - beat: title
    show:
      - title: {main: Pieces, hold: 2.6s}
  - beat: first
    say: One two three.
    show:
      - run: {clip: coded, from: f10, to: f30, speed: 1/4}
      - freeze: {clip: coded, at: here, hold: 1s..9s}
    strokes:
      ring: {ring: {centre: [0.5, 0.5], radius: 0.2}, at: 1.5s, draw: 0.4s, role: fault}
  - beat: second
    show:
      - freeze: {clip: coded, at: there, hold: 2.4s}
    strokes:
      line: {line: [[0.2, 0.2], [0.7, 0.8]], at: 0.2s, draw: 0.4s}
  - beat: third
    show:
      - run: {clip: coded, from: f5, to: f60, speed: 1, sound: yes}
"""


def project(folder: Path, text: str = BOARD) -> Path:
    """A folder with the clip, the take and the storyboard; returns the storyboard."""
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "coded.mp4").exists():
        make_clip(folder / "coded.mp4", steady(60, 2), tracks=[Track(samples=beep(2.0, [0.5]))])
        (folder / "takes").mkdir()
        write_wav(folder / "takes" / "first.wav", beep(1.6, [0.2, 0.5, 0.9, 1.2], channels=1))
    board = folder / "board.yaml"
    board.write_text(text)
    return board


def checked(folder: Path, text: str = BOARD) -> Checked:
    """The segment, judged and fit to be rendered."""
    made = check(project(folder, text))
    assert made.fits, [str(finding) for finding in made.findings]
    return made


def movie(made: Checked, out: Path, store: Path) -> list[tuple[str, int, int]]:
    """Renders and returns what progress was told."""
    told: list[tuple[str, int, int]] = []
    make_movie(
        made.plan, made.facts, made.look, delivery("web"), out, store=Store(store),
        progress=lambda *said: told.append(said),
    )  # fmt: skip
    return told


def frames_drawn(told: list[tuple[str, int, int]]) -> int:
    """How many frames a render had to encode."""
    return max((of for step, _, of in told if step == "picture"), default=0)
