"""Turns decoded frames into pictures of the house: upright, square pixels, BT.709, limited range, 8-bit 4:2:0.

One frame in gives one picture out, and an interlaced frame two; nothing is dropped, repeated or blended in time.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import ExitStack

from av.error import BlockingIOError as NotYet
from av.error import EOFError as AtEnd
from av.filter.graph import Graph
from av.video.frame import VideoFrame

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media import hdr
from segmentkit.media.avframes import mark
from segmentkit.media.probe import ClipProbe, Look
from segmentkit.timebase import seconds_text

Frames = Iterator[VideoFrame]
Step = tuple[str, dict[str, str]]
"""A filter of libavfilter and its options; given apart, so that nothing in a file name can be read as an option."""

_SCALER = "bicubic+accurate_rnd+full_chroma_int"


def upright(probe: ClipProbe, frames: Frames) -> Generator[VideoFrame, None, None]:
    """Converts the frames of a clip, in order, to yuv420p pictures of the size `probe.look.upright`.

    Raises:
        MediaUnusable: when the picture's size changes on the way.
    """
    with ExitStack() as stack:
        chain = _chain(probe.look, stack)
        frames = _same_shape(probe, frames)
        for frame in _filtered(frames, probe.look, chain) if chain else frames:
            # The type a picture had in its source must not become an order to the encoder.
            frame.pict_type = 0
            mark(frame)
            yield frame


def _chain(look: Look, stack: ExitStack) -> list[Step]:
    """The filters that a clip needs, in order; none where its frames are as they should be."""
    chain: list[Step] = []
    if look.interlaced:
        chain.append(("bwdif", {"mode": "send_field", "parity": "auto", "deint": "all"}))
    target = Size(look.upright.height, look.upright.width) if look.turn % 2 else look.upright
    if look.aspect == 1 and target != look.size:
        chain.append(("crop", {"w": str(target.width), "h": str(target.height), "x": "0", "y": "0"}))
    source = {"in_range": "pc" if look.full_range else "tv"}
    if look.matrix:
        source["in_color_matrix"] = look.matrix
    else:
        source["in_range"] = "pc"  # RGB
    plain = look.pixels == "yuv420p" and look.matrix == "bt709" and not look.full_range
    if look.transfer or look.wide:
        light, curve = stack.enter_context(hdr.tables(look.transfer))
        chain += [
            ("scale", {**source, "out_range": "pc", "flags": _SCALER}),
            ("format", {"pix_fmts": "gbrpf32le"}),
            ("lut3d", {"file": str(light), "interp": "tetrahedral"}),
            ("scale", {"in_range": "pc", "out_range": "pc", "flags": _SCALER}),
            ("format", {"pix_fmts": "gbrp16"}),
            ("lut1d", {"file": str(curve), "interp": "linear"}),
        ]
        source = {"in_range": "pc"}
        plain = False
    if not plain or look.aspect != 1:
        size = {"w": str(target.width), "h": str(target.height)}
        chain += [
            ("scale", {**size, **source, "out_color_matrix": "bt709", "out_range": "tv", "flags": _SCALER}),
            ("format", {"pix_fmts": "yuv420p"}),
        ]
    if look.mirrored:
        chain.append(("hflip", {}))
    turns: dict[int, list[Step]] = {
        0: [], 1: [("transpose", {"dir": "clock"})], 2: [("hflip", {}), ("vflip", {})],
        3: [("transpose", {"dir": "cclock"})],
    }  # fmt: skip
    return chain + turns[look.turn]


def _same_shape(probe: ClipProbe, frames: Frames) -> Frames:
    for index, frame in enumerate(frames):
        size = Size(frame.width, frame.height)
        if size != probe.look.size or frame.format.name != probe.look.pixels:
            moment = probe.times[min(index, len(probe.times) - 1)]
            raise MediaUnusable(
                f"{probe.path} — its pictures change from {probe.look.size} {probe.look.pixels} to {size}"
                f" {frame.format.name} at {seconds_text(moment)} — one size is allowed — convert it to one size"
            )
        yield frame


def _filtered(frames: Frames, look: Look, chain: list[Step]) -> Frames:
    graph: Graph | None = None
    for index, frame in enumerate(frames):
        graph = graph or _graph(frame, look, chain)
        frame.pts = index  # filters that make two of one want a clock; the true moments are kept elsewhere
        graph.vpush(frame)
        while True:
            try:
                yield graph.vpull()
            except NotYet:
                break
    if graph is not None:
        graph.vpush(None)
        while True:
            try:
                yield graph.vpull()
            except (NotYet, AtEnd):
                return


def _graph(frame: VideoFrame, look: Look, chain: list[Step]) -> Graph:
    graph = Graph()
    graph.threads = 2
    matrix = {"": "gbr", "bt601": "smpte170m", "bt2020": "bt2020nc"}.get(look.matrix, look.matrix)
    source = {
        "video_size": f"{frame.width}x{frame.height}",
        "pix_fmt": frame.format.name,
        "time_base": "1/1000",
        "pixel_aspect": "1/1",
        "colorspace": matrix,
        "range": "pc" if look.full_range or not look.matrix else "tv",
    }
    nodes = [graph.add("buffer", **source)]
    nodes += [graph.add(name, **options) for name, options in chain]
    nodes.append(graph.add("buffersink"))
    graph.link_nodes(*nodes)
    graph.configure()
    return graph
