"""Still pictures, and the step between RGB and planes."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media.planes import blank
from segmentkit.media.stills import load_still, planes_to_rgb, rgb_to_planes, still_facts, write_png
from tests.clips import CORNERS, coded, read_corners, read_number

BARS = {
    (191, 191, 191): (180, 128, 128), (191, 191, 0): (168, 44, 136), (0, 191, 191): (145, 147, 44),
    (0, 191, 0): (133, 63, 52), (191, 0, 191): (63, 193, 204), (191, 0, 0): (51, 109, 212),
    (0, 0, 191): (28, 212, 120), (0, 0, 0): (16, 128, 128),
}  # fmt: skip
"""75 % colour bars as 8-bit Y, Cb, Cr by ITU-R BT.709-6, items 3 and 4; the same as libavfilter's `smpteHDbars`."""
FULL = {
    (255, 255, 255): (235, 128, 128), (255, 255, 0): (219, 16, 138), (0, 255, 255): (188, 154, 16),
    (0, 255, 0): (173, 42, 26), (255, 0, 255): (78, 214, 230), (255, 0, 0): (63, 102, 240), (0, 0, 255): (32, 240, 118),
}  # fmt: skip


def patch(colour, size=(8, 12)):
    return np.full((*size, 3), colour, np.uint8)


class TestColours:
    @pytest.mark.parametrize(("rgb", "ycc"), [*BARS.items(), *FULL.items()])
    def test_bars_have_the_values_of_the_standard(self, rgb, ycc):
        planes = rgb_to_planes(patch(rgb))
        for plane, value in zip((planes.y, planes.u, planes.v), ycc, strict=True):
            assert (plane == value).all()

    @given(colour=st.tuples(*[st.integers(0, 255)] * 3))
    def test_an_even_patch_comes_back_to_within_eight_bit_steps(self, colour):
        back = planes_to_rgb(rgb_to_planes(patch(colour)))
        assert (back == back[0, 0]).all()
        assert np.abs(back[0, 0].astype(int) - colour).max() <= 2

    def test_chroma_lies_level_with_even_columns(self):
        rgb = patch((0, 0, 0), (4, 16))
        rgb[:, 8] = (0, 0, 255)  # one even column
        planes = rgb_to_planes(rgb)
        lit = planes.u[0].astype(int) - 128
        assert lit.argmax() == 4
        assert np.count_nonzero(lit) == 1
        rgb = patch((0, 0, 0), (4, 16))
        rgb[:, 9] = (0, 0, 255)  # one odd column: half way between two samples
        lit = rgb_to_planes(rgb).u[0].astype(int) - 128
        assert lit[4] == lit[5] > 0
        assert np.count_nonzero(lit) == 2

    def test_a_soft_picture_survives_both_ways(self):
        x, y = np.meshgrid(np.linspace(0, 1, 128), np.linspace(0, 1, 96))
        rgb = np.stack([60 + 120 * x, 200 - 100 * y, 80 + 90 * x * y], axis=-1).astype(np.uint8)
        assert np.abs(planes_to_rgb(rgb_to_planes(rgb)).astype(int) - rgb).max() <= 3

    def test_an_odd_edge_is_left_out(self):
        assert rgb_to_planes(patch((9, 9, 9), (7, 5))).size == Size(4, 6)

    def test_values_beyond_rgb_are_held(self):
        assert planes_to_rgb(blank(Size(4, 4), y=254)).max() == 255
        assert planes_to_rgb(blank(Size(4, 4), y=1)).min() == 0


class TestFiles:
    def test_a_png_comes_back_as_it_was_written(self, tmp_path):
        planes = rgb_to_planes(coded(77))
        write_png(tmp_path / "a.png", planes)
        facts, read = load_still(tmp_path / "a.png")
        assert facts.size == planes.size
        assert read_number(read) == 77
        assert np.abs(read.y.astype(int) - planes.y).mean() < 0.5  # at sharp edges RGB cannot hold what planes can
        assert still_facts(tmp_path / "a.png") == facts

    def test_the_same_picture_gives_the_same_bytes(self, tmp_path):
        for name in "ab":
            write_png(tmp_path / name, coded(5))
        assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()

    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_exif_orientation_is_followed(self, tmp_path, orientation):
        # Exif 2.32, tag 0x0112: how row 0 and column 0 of the stored picture lie in the shown one.
        undo = {
            1: lambda a: a, 2: lambda a: a[:, ::-1], 3: lambda a: a[::-1, ::-1], 4: lambda a: a[::-1],
            5: lambda a: a.transpose(1, 0, 2), 6: lambda a: np.rot90(a, 1),
            7: lambda a: a[::-1, ::-1].transpose(1, 0, 2), 8: lambda a: np.rot90(a, -1),
        }[orientation]  # fmt: skip
        exif = Image.Exif()
        exif[0x0112] = orientation
        Image.fromarray(np.ascontiguousarray(undo(coded(9)))).save(tmp_path / "a.jpg", exif=exif, quality=95)
        facts, planes = load_still(tmp_path / "a.jpg")
        assert facts.size == planes.size == Size(320, 180)
        assert read_number(planes) == 9
        assert read_corners(planes_to_rgb(planes)) == tuple(CORNERS)
        assert still_facts(tmp_path / "a.jpg") == facts

    @pytest.mark.parametrize("behind", [False, True])
    @pytest.mark.parametrize("orientation", [1, 6])
    def test_the_orientation_of_a_png_is_found_before_and_behind_its_pixels(self, tmp_path, behind, orientation):
        # PNG specification, third edition, 11.3.4.3: eXIf may stand before or behind the pixels.
        exif = Image.Exif()
        exif[0x0112] = orientation
        path = tmp_path / "a.png"
        Image.fromarray(coded(9)).save(path, exif=exif)
        data, at, chunks = path.read_bytes(), 8, []
        while at < len(data):
            length = int.from_bytes(data[at : at + 4]) + 12
            chunks.append(data[at : at + length])
            at += length
        moved = [chunk for chunk in chunks if chunk[4:8] == b"eXIf"]
        assert len(moved) == 1
        if behind:
            rest = [chunk for chunk in chunks if chunk not in moved]
            path.write_bytes(data[:8] + b"".join([*rest[:-1], *moved, rest[-1]]))
        facts, planes = load_still(path)
        assert facts.size == planes.size == (Size(180, 320) if orientation == 6 else Size(320, 180))
        assert still_facts(path) == facts

    def test_what_is_transparent_shows_black(self, tmp_path):
        rgba = np.zeros((8, 8, 4), np.uint8)
        rgba[..., 0], rgba[:, :4, 3] = 200, 255
        rgba[:4, 4:, 3] = 128
        Image.fromarray(rgba).save(tmp_path / "a.png")
        rgb = planes_to_rgb(load_still(tmp_path / "a.png")[1])
        assert np.abs(rgb[1, 1].astype(int) - (200, 0, 0)).max() <= 2
        assert np.abs(rgb[1, 7].astype(int) - (100, 0, 0)).max() <= 2
        assert rgb[7, 7].max() <= 2

    @pytest.mark.parametrize("mode", ["L", "LA", "P", "1", "I;16", "CMYK"])
    def test_other_kinds_of_pixels_are_read(self, tmp_path, mode):
        grey = np.full((8, 8), 150, np.uint8)
        if mode == "I;16":
            image = Image.fromarray(grey.astype(np.uint16) * 257)
        else:
            image = Image.fromarray(grey if mode != "1" else grey > 0).convert(mode)
        name = "a.jpg" if mode == "CMYK" else "a.png"
        image.save(tmp_path / name)
        rgb = planes_to_rgb(load_still(tmp_path / name)[1])
        assert np.abs(rgb.astype(int) - (255 if mode == "1" else 150)).max() <= 4


class TestRefused:
    def refusal(self, path):
        with pytest.raises(MediaUnusable) as raised:
            load_still(path)
        assert str(raised.value).startswith(str(path))
        assert "\n" not in str(raised.value)
        return str(raised.value)

    def test_no_such_file_or_none_at_all(self, tmp_path):
        assert "there is no such file" in self.refusal(tmp_path / "none.png")
        assert "is a folder" in self.refusal(tmp_path)
        (tmp_path / "a.png").write_bytes(b"")
        assert "is empty" in self.refusal(tmp_path / "a.png")

    def test_other_formats(self, tmp_path):
        Image.fromarray(coded(1)).save(tmp_path / "a.gif")
        assert "is no PNG or JPEG" in self.refusal(tmp_path / "a.gif")
        (tmp_path / "a.heic").write_bytes(b"\0\0\0\x18ftypheic" + bytes(50))
        assert "export it as JPEG" in self.refusal(tmp_path / "a.heic")

    @pytest.mark.parametrize("name", ["a.png", "a.jpg"])
    def test_one_that_was_cut_off(self, tmp_path, name):
        Image.fromarray(coded(1)).save(tmp_path / "whole.png" if name == "a.png" else tmp_path / "whole.jpg")
        data = next(tmp_path.glob("whole.*")).read_bytes()
        (tmp_path / name).write_bytes(data[: len(data) // 2])
        assert "is damaged" in self.refusal(tmp_path / name)

    @pytest.mark.slow
    @pytest.mark.parametrize("side", [10_000, 30_000])
    def test_a_bomb_from_its_header(self, tmp_path, side):
        def chunk(kind, data):
            return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

        header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
        body = zlib.compress(bytes(side * (side // 8 + 1)), 9)
        png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
        (tmp_path / "a.png").write_bytes(png)
        assert "at most 64 million are taken" in self.refusal(tmp_path / "a.png")
