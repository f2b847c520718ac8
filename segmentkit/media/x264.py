"""How the software encoder of H.264 is set up: options, and frames on which it need not look for what moved."""

from __future__ import annotations

from fractions import Fraction

from segmentkit.delivery import PictureCoding
from segmentkit.media.asked import Asked, Options, rated

_SEARCHING = ("veryfast", "faster", "fast", "medium", "slow", "slower", "veryslow")
"""Presets that look longer for what moved than is needed where nothing does."""
_AHEAD = {"veryfast": 10, "faster": 20, "fast": 30, "medium": 40, "slow": 50, "slower": 60, "veryslow": 60}
"""Frames that the encoder looks ahead at each, in libx264's own numbers."""


def h264_options(asked: Asked) -> Options:
    """Options of the software encoder."""
    coding = asked.coding
    # The profile that was asked for where it can hold the pixels; else the least that can.
    profile = {"yuv420p": coding.profile or "high", "yuv420p10le": "high10"}.get(coding.pixels, "high422")
    large = 0 if profile == "main" else 1
    return {
        "preset": coding.preset or "medium",
        **rated(coding, "crf"),
        "profile": profile,
        # `stitchable` keeps the headers from depending on the pictures; `chromaloc` 0 is left, as in `Planes`;
        # `8x8dct` makes the profile High at every preset.
        "x264-params": f"open-gop=0:stitchable=1:chromaloc=0:8x8dct={large}:{_told(asked)}",
        **({"flags": "+ildct+ilme"} if asked.fields else {}),
        **({"forced-idr": "1"} if asked.held else {}),
    }


def _told(asked: Asked) -> str:
    """What differs between frames that are encoded one by one and frozen ones that are encoded once."""
    if asked.held:
        # Key frames are asked for. Nothing may follow from how far frames lie apart, which the encoder does not know
        # (`weightb`, `direct`); how long each stays it is told by moments, so its rate must not be constant. B pictures
        # that others lean on fill the store of reference pictures; some decoders then find no room for repetitions.
        zones = "/".join(f"{start},{end - 1},{_LITTLE}" for start, end in asked.still if start < end)
        told = "keyint=infinite:scenecut=0:force-cfr=0:weightb=0:direct=spatial:b-pyramid=none"
        return f"{told}:zones={zones}" if zones else told
    even = ":scenecut=0" if asked.even else ""
    order = {"top": ":tff=1", "bottom": ":bff=1", None: ""}[asked.fields]
    return f"keyint={asked.group}{even}:force-cfr=1{order}{_zones(asked)}"


def can_hold(coding: PictureCoding, fields: str | None) -> bool:
    """Whether frozen pictures may be encoded once: what `h264` understands, at a quality and not at a bit rate."""
    return (
        (coding.codec, coding.encoder, coding.pixels) == ("h264", "libx264", "yuv420p")
        and coding.preset in _SEARCHING
        and fields is None
        and coding.bit_rate is None
        and coding.holds == "skipped"
    )


def told_stay(coding: PictureCoding) -> int:
    """Frames for which the encoder is told that a frozen picture stays.

    It gives a picture the better quality the longer it stays, as far as it looks ahead. These give the quality and the
    size that come of encoding all frames; found by trying, on the benchmark's segment.
    """
    return 2 + _AHEAD[coding.preset] // 10


def looks_long(coding: PictureCoding) -> bool:
    """Whether it pays to tell the encoder on which frames next to nothing moves."""
    return coding.preset in _SEARCHING[2:]


_LITTLE = "b=1.0,me=dia,subme=1,ref=1,trellis=0"
_FIVE = _SEARCHING[:-1]
"""Presets of three B pictures in a row. Five give the same headers; from six on a counter in them is longer."""
_MOSTLY = Fraction(3, 4)  # of a piece that is still, from which its groups have one pattern


def _zones(asked: Asked) -> str:
    """Frames on which the encoder looks no longer than it must; key pictures get all of its effort, as everywhere.

    With these a frozen picture costs x264 a third at preset medium, at the same quality and size: 10.6 ms a frame in
    place of 29 at 1920x1080.
    """
    if asked.coding.preset not in _SEARCHING or asked.fields is not None or not asked.even:
        return ""
    parts = []
    for start, end in asked.still:
        for first in range(start - start % asked.group, end, asked.group):
            runs = max(start, first + 1), min(end, first + asked.group)
            if runs[0] < runs[1]:
                parts.append(f"{runs[0]},{runs[1] - 1},{_LITTLE}")
    still = sum(end - start for start, end in asked.still)
    mostly = asked.length is not None and still >= _MOSTLY * asked.length and asked.coding.preset in _FIVE
    return (":zones=" + "/".join(parts) if parts else "") + (":bframes=5:b-adapt=0" if mostly else "")
