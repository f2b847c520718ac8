"""A file measured from what was kept of its pieces gives the same figures, to the bit, as one that is decoded."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.geometry import Rect, Size
from segmentkit.media import screen as screening
from segmentkit.media.encode import PictureWriter
from segmentkit.media.join import join, write_sound
from segmentkit.media.pieces_read import pictures_measured
from segmentkit.media.planes import Planes, blank
from segmentkit.media.screen import screen
from segmentkit.media.screen_kept import KIND, Archive, kept_reference
from segmentkit.media.screen_sync import reference_of
from segmentkit.media.store import Store
from segmentkit.screened import JoinedPiece, Look, Screened
from segmentkit.timebase import Rate, Span

SIZE = Size(640, 360)
R25 = Rate(Fraction(25))
DELIVERIES = {
    "skipped": PictureCoding(preset="veryfast", quality=22),
    "coded": PictureCoding(preset="veryfast", quality=22, holds="coded"),
    "prores": PictureCoding(
        codec="prores", encoder="prores_ks", pixels="yuv422p10le", profile="hq", preset="", group=1
    ),
}
LOOKS = (
    Look(name="first", frame=3, area=Rect(0.1, 0.1, 0.3, 0.2)),
    Look(name="later", frame=60, area=Rect(0.5, 0.5, 0.2, 0.2)),
)


def delivery(how: str) -> Delivery:
    container = "mov" if how == "prores" else "mp4"
    return Delivery(
        name="t", scope="web", loudness=-16, true_peak=-1, picture=DELIVERIES[how], container=container,
        sound=SoundCoding(codec="pcm", bit_rate=None) if how == "prores" else SoundCoding(),
    )  # fmt: skip


@cache
def picture(kind: str, k: int) -> Planes:
    """Grain that moves, flashes between white and dark, colours beyond the legal ones, or black; not to be changed."""
    made = blank(SIZE)
    chance = np.random.default_rng(k)
    columns, rows = np.meshgrid(np.arange(SIZE.width) + 3 * k, np.arange(SIZE.height))
    made.y[:] = np.clip(
        110 + 60 * np.sin(columns / 21) * np.sin(rows / 17) + chance.normal(0, 4, columns.shape), 16, 235
    )
    made.u[:] = 110 + k % 7
    if kind == "flash":
        made.y[:] = 230 if k // 2 % 2 else 20
    elif kind == "wrong":
        made.y[100:200, 200:400], made.v[50:100, 100:200] = 235, 240
    elif kind == "black":
        made.y[:] = 16
    return made


PIECES: dict[str, list[tuple[str, int, int]]] = {
    "run": [("run", k, 1) for k in range(20)],
    "hold": [("run", 20, 40), ("run", 21, 1), ("run", 21, 24)],
    "again": [("run", 21, 15), ("wrong", 22, 12)],
    "flash": [("flash", k, 1) for k in range(30)],
    "end": [("black", 0, 30)],
}  # fmt: skip


def piece(folder: Path, name: str, how: str) -> tuple[Path, JoinedPiece]:
    shown = PIECES[name]
    path = folder / f"{name}.{'mov' if how == 'prores' else 'mp4'}"
    length = sum(repeat for _, _, repeat in shown)
    writer = PictureWriter(path, size=SIZE, rate=R25, delivery=delivery(how), length=length)
    for kind, k, repeat in shown:
        writer.write(picture(kind, k), repeat)
    writer.finish()
    return path, JoinedPiece(pictures_measured(path, length, R25.fps)["packets"], length)


def sound(frames: int) -> NDArray[np.float32]:
    moments = np.arange(frames * 1920) / 48_000
    return np.repeat((0.1 * np.sin(2 * np.pi * 440 * moments)).astype(np.float32)[:, None], 2, axis=1)


def movie(folder: Path, names: list[str], how: str) -> tuple[Path, list[JoinedPiece]]:
    folder.mkdir()
    made = [piece(folder, name, how) for name in names]
    frames = sum(one.frames for _, one in made)
    heard, path = folder / "sound.mov", folder / f"movie.{delivery(how).container}"
    write_sound(sound(frames), heard, delivery(how))
    join([path for path, _ in made], path, rate=R25, sound=heard, chapters=(), title="", delivery=delivery(how))
    return path, [one for _, one in made]


def seen(path: Path, parts: list[JoinedPiece] | None = None, store: Path | None = None, first: int = 0) -> Screened:
    archive = Archive(Store(store)) if store else None
    frames = Span(first, 10_000) if first else None
    return screen(path, looks=LOOKS, parts=parts or (), archive=archive, programme=frames)


def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Counts the pictures that are looked at whole."""
    number = [0]
    planes = screening.full_planes

    def counting(frame: object, *, full: bool) -> object:
        number[0] += 1
        return planes(frame, full=full)

    monkeypatch.setattr(screening, "full_planes", counting)
    return number


@pytest.mark.parametrize("how", ["skipped", pytest.param("coded", marks=pytest.mark.slow)])
def test_what_was_kept_gives_the_same_figures_and_nothing_is_decoded(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ["run", "hold", "again", "flash", "end"]
    path, parts = movie(tmp_path / "a", names, how)
    whole, store = seen(path), tmp_path / "store"
    assert whole.pictures.flashes
    assert whole.pictures.frozen
    assert whole.pictures.black
    assert whole.pictures.levels is not None
    looked = counted(monkeypatch)
    assert seen(path, parts, store) == whole
    assert looked == [sum(part.frames for part in parts)]
    looked[0] = 0
    assert seen(path, parts, store) == whole
    assert looked == [0]


def test_only_a_new_piece_is_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = tmp_path / "store"
    path, parts = movie(tmp_path / "a", ["run", "hold", "end"], "skipped")
    seen(path, parts, store)
    other, new = movie(tmp_path / "b", ["hold", "run", "flash", "end"], "skipped")
    assert new[-1] == parts[-1]
    looked = counted(monkeypatch)
    found = seen(other, new, store)
    # "hold" has texts now where nobody looked before; "run", at another place, has none.
    assert looked[0] == PIECES_FRAMES["hold"] + PIECES_FRAMES["flash"]
    assert found == seen(other)
    looked[0] = 0
    assert seen(other, new, store, first=25) == seen(other, first=25)
    assert looked[0] == sum(one.frames for one in new)  # those of the comparison alone


PIECES_FRAMES = {name: sum(repeat for *_, repeat in shown) for name, shown in PIECES.items()}


def test_what_needs_more_than_eight_bits_is_decoded_each_time(tmp_path: Path) -> None:
    path, parts = movie(tmp_path / "a", ["run", "end"], "prores")
    store = tmp_path / "store"
    assert seen(path, parts, store) == seen(path)
    assert not list((store / KIND).rglob("*.bin"))


def test_what_is_damaged_is_measured_again(tmp_path: Path) -> None:
    path, parts = movie(tmp_path / "a", ["run", "end"], "skipped")
    store = tmp_path / "store"
    whole = seen(path, parts, store)
    files = list((store / KIND).rglob("*.bin"))
    assert len(files) == 2
    for file in files:
        data = bytearray(file.read_bytes())
        data[len(data) // 2] ^= 1
        file.write_bytes(data)
    assert seen(path, parts, store) == whole


def test_a_planned_sound_is_mixed_once_and_again_when_it_is_damaged(tmp_path: Path) -> None:
    mixed: list[int] = []

    def planned() -> NDArray[np.float32]:
        mixed.append(1)
        return sound(50)

    plain = reference_of(sound(50))
    for times in (1, 1):
        found = kept_reference(Store(tmp_path), "name", planned)
        assert np.array_equal(found.sides, plain.sides)
        assert np.array_equal(found.squares, plain.squares)
        assert len(mixed) == times
    kept_reference(Store(tmp_path), "another", planned)
    assert len(mixed) == 2
    for file in (tmp_path / KIND).rglob("*.npz"):
        file.write_bytes(file.read_bytes()[:-40])
    assert np.array_equal(kept_reference(Store(tmp_path), "name", planned).sides, plain.sides)
    assert len(mixed) == 3


def test_pieces_that_are_not_those_of_the_file_do_no_harm_to_what_is_kept(tmp_path: Path) -> None:
    path, parts = movie(tmp_path / "a", ["run", "end"], "skipped")
    store = tmp_path / "store"
    whole = seen(path)
    assert replace(seen(path, [*parts, JoinedPiece("0" * 64, 5)], store), path=path) == whole
