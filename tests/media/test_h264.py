"""Headers that are read and pictures that are written, held against libavcodec: its parser of headers, its decoder."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import av
import av.logging
import numpy as np
import pytest
from av.bitstream import BitStreamFilterContext
from av.packet import Packet
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.delivery import Delivery, PictureCoding
from segmentkit.geometry import Size
from segmentkit.media import h264, h264_bits, h264_repeat
from segmentkit.media.avframes import blank_frame, plane_view
from segmentkit.media.codecs import configure
from segmentkit.timebase import Rate

R25 = Rate(Fraction(25))


def opened(size: Size, **coding: Any) -> Any:
    """An encoder as for a piece with frozen pictures."""
    delivery = Delivery(name="t", scope="web", loudness=-16, true_peak=-1, picture=PictureCoding(**coding))
    context: Any = av.CodecContext.create("libx264", "w")
    configure(context, delivery, size=size, rate=R25, group=50, even=True, length=100, held=True)
    context.flags |= av.codec.context.Flags.global_header
    context.open()
    return context


def noise(size: Size, seed: int) -> Any:
    frame = blank_frame(size)
    chance = np.random.default_rng(seed)
    for index in range(3):
        plane = plane_view(frame, index)
        plane[:] = chance.integers(30, 220, plane.shape)
    frame.time_base = Fraction(1, 25)
    return frame


def traced(data: bytes, extradata: bytes, size: Size) -> dict[str, int]:
    """What libavcodec's `trace_headers` reads, by its names, which are those of ITU-T H.264; the first of each."""
    output = av.open("/dev/null", "w", format="h264")
    stream: Any = output.add_stream("libx264", rate=25)
    stream.width, stream.height = size.width, size.height
    before = av.logging.get_level()
    av.logging.set_level(av.logging.VERBOSE)
    try:
        with av.logging.Capture() as said:
            BitStreamFilterContext("trace_headers", stream).filter(Packet(extradata + data))
    finally:
        av.logging.set_level(before)
        output.close()
    found: dict[str, int] = {}
    for _, _, line in said:
        if match := re.match(r"\d+\s+(\S+)\s+[01]*\s+= (-?\d+)", line):
            found.setdefault(match[1], int(match[2]))
    return found


@given(st.binary(min_size=1, max_size=60).map(lambda data: data.replace(b"\x05", b"\0")))
def test_no_start_code_is_left_in_a_unit_and_nothing_is_lost(data: bytes) -> None:
    kept = h264_bits.escaped(data)
    assert not re.search(rb"\x00\x00[\x00-\x02]", kept)
    assert h264_bits.unescaped(kept) == data


def test_units_are_found_behind_long_and_short_start_codes() -> None:
    stream = b"\0\0\0\1\x67ab" + b"\0\0\1\x68c" + b"\0\0\0\1\x65d\x80"
    assert h264_bits.units(stream) == [b"\x67ab", b"\x68c", b"\x65d\x80"]
    assert h264_bits.counted(stream) == b"\0\0\0\3\x67ab\0\0\0\2\x68c\0\0\0\3\x65d\x80"


@pytest.mark.parametrize("preset", ["veryfast", "medium", "veryslow"])
@pytest.mark.parametrize("profile", ["high", "main"])
def test_headers_say_what_libavcodec_reads_in_them(preset: str, profile: str) -> None:
    size = Size(200, 120)
    context = opened(size, preset=preset, profile=profile)
    extradata = bytes(context.extradata)
    found = h264.headers(extradata)
    frame = noise(size, 1)
    frame.pts = 0
    data = b"".join(bytes(packet) for packet in [*context.encode(frame), *context.encode(None)])
    said = traced(data, extradata, size)
    assert found.blocks == (said["pic_width_in_mbs_minus1"] + 1) * (said["pic_height_in_map_units_minus1"] + 1)
    assert found.frame_bits == said["log2_max_frame_num_minus4"] + 4
    assert found.order_bits == said["log2_max_pic_order_cnt_lsb_minus4"] + 4
    assert found.reordered == said["max_num_reorder_frames"]
    assert found.quantiser == said["pic_init_qp_minus26"] + 26
    assert (found.weighted, found.filtered) == (
        said["weighted_pred_flag"],
        said["deblocking_filter_control_present_flag"],
    )
    assert (said["weighted_bipred_idc"], said["fixed_frame_rate_flag"]) == (0, 0)

    wide = traced(data, h264.widened(found), size)
    changed = {"log2_max_pic_order_cnt_lsb_minus4", "fixed_frame_rate_flag"}
    of_headers = {name for name in said if name in wide and "slice" not in name and "idr" not in name}
    assert {name for name in of_headers if said[name] != wide[name]} >= changed
    assert wide["log2_max_pic_order_cnt_lsb_minus4"] == said["log2_max_pic_order_cnt_lsb_minus4"] + 8
    assert wide["fixed_frame_rate_flag"] == 1
    for name in (
        "num_units_in_tick",
        "time_scale",
        "max_dec_frame_buffering",
        "max_num_ref_frames",
        "matrix_coefficients",
    ):
        assert wide[name] == said[name], name


@settings(max_examples=12, deadline=None)
@given(
    width=st.integers(1, 20).map(lambda n: 16 * n + 2), height=st.integers(1, 14).map(lambda n: 16 * n + 6),
    far=st.integers(1, 1200), seed=st.integers(0, 99),
)  # fmt: skip
def test_a_repeated_picture_decodes_to_the_one_it_repeats(width: int, height: int, far: int, seed: int) -> None:
    size = Size(width, height)
    context = opened(size, preset="veryfast", quality=20)
    of = h264.headers(bytes(context.extradata))
    frame = noise(size, seed)
    frame.pts = 0
    data = b"".join(bytes(packet) for packet in [*context.encode(frame), *context.encode(None)])
    units = h264_bits.units(data)
    key = next(h264.slice_of(unit, of) for unit in units if unit[0] & 31 == h264.KEY_SLICE)
    placed = [h264.placed(h264.slice_of(unit, of), 0, of) if unit[0] & 31 == 5 else unit for unit in units]
    wide = h264_bits.stream(placed)
    decoder: Any = av.CodecContext.create("h264", "r")
    decoder.extradata, decoder.options = h264.widened(of), {"err_detect": "explode"}
    shown = []
    again = [h264_bits.stream([h264_repeat.repeated(key, key, 2 * k, of)]) for k in (1, 2, far + 2)]
    assert all(len(one) < 200 for one in again)
    for one in [wide, *again]:
        shown.extend(decoder.decode(Packet(one)))
    shown.extend(decoder.decode(None))
    assert len(shown) == 4
    for later in shown[1:]:
        assert not later.key_frame
        assert all(np.array_equal(plane_view(later, k), plane_view(shown[0], k)) for k in range(3))


def test_what_is_coded_in_another_way_is_not_touched() -> None:
    context: Any = av.CodecContext.create("libx264", "w")
    context.width, context.height, context.pix_fmt, context.time_base = 64, 48, "yuv420p", Fraction(1, 25)
    context.flags |= av.codec.context.Flags.global_header
    context.options = {"preset": "ultrafast"}  # no arithmetic coding
    context.open()
    with pytest.raises(h264_bits.Unfit):
        h264.headers(bytes(context.extradata))
    with pytest.raises(h264_bits.Unfit):
        h264.headers(b"")
