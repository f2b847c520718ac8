"""Whether a movie can be made as its delivery says: asked before anything is drawn."""

from __future__ import annotations

from fractions import Fraction

import av

from segmentkit.delivery import Delivery, PictureCoding
from segmentkit.geometry import Size
from segmentkit.media.animated import animation_refusal
from segmentkit.media.codecs import CODECS, Codec
from segmentkit.media.files import sound_missing, sound_refusal
from segmentkit.media.hardware import ENCODERS as HARDWARE
from segmentkit.media.verify import file_rate
from segmentkit.timebase import Rate

_TELEVISION = tuple(Fraction(rate) for rate in ("24000/1001", "24", "25", "30000/1001", "30", "50", "60000/1001", "60"))
"""Rates that MPEG-2 and MXF have a number for (ISO/IEC 13818-2, table 6-4)."""


def encoder_missing(coding: PictureCoding) -> str | None:
    """One line on an encoder that is not there: what is missing, what brings it, what to take instead; else None."""
    codec = CODECS[coding.codec]
    if codec.pieces_by:
        from PIL import features  # noqa: PLC0415  mail only

        found = codec.decoded != "webp" or features.check("webp")
        missing, wheel = "the WebP encoder of Pillow", "pillow"
    else:
        found = coding.encoder in av.codecs_available and _encodes(coding.encoder)
        missing, wheel = f"the encoder {coding.encoder} of libav", "av"
    if found:
        return None
    return (
        f"{codec.called} — {missing} is missing here — the wheel of `{wheel}` brings it — run: pip install"
        f" --force-reinstall --only-binary=:all: {wheel}, or take {codec.instead}"
    )


def _encodes(name: str) -> bool:
    try:
        return bool(av.Codec(name, "w").is_encoder)
    except (ValueError, av.FFmpegError):
        return False


def coding_refusal(delivery: Delivery) -> str | None:
    """Why pictures cannot be coded as a delivery says, in one line; None when they can. Nothing is encoded for it."""
    coding, place = delivery.picture, f"{delivery.name}, picture"
    codec = CODECS.get(coding.codec)
    if codec is None:
        return f"{place} — `{coding.codec}` is not a codec that is known — write one of {', '.join(CODECS)}"
    if delivery.container not in codec.files:
        may = " or ".join(codec.files)
        return f"{place} — {codec.called} is not put into a {delivery.container} file here — write container: {may}"
    if coding.encoder not in codec.encoders and not (coding.codec == "h264" and coding.encoder in HARDWARE):
        may = " or ".join(codec.encoders)
        return f"{place} — {codec.called} is not encoded by `{coding.encoder}` here — write encoder: {may}"
    return _held(delivery, codec) or encoder_missing(coding)


def _held(delivery: Delivery, codec: Codec) -> str | None:
    """Why a codec does not hold such pixels, profile or fields."""
    coding, place = delivery.picture, f"{delivery.name}, picture"
    if coding.pixels not in codec.profiles:
        return f"{place} — {codec.called} has no {coding.pixels} here — write pixels: {' or '.join(codec.profiles)}"
    if codec.named and coding.profile not in {"", *codec.named}:
        may = ", ".join(codec.named)
        return f"{place} — {codec.called} has no profile `{coding.profile}` here — write one of {may}"
    if coding.codec == "dnxhr" and coding.profile and (coding.profile == "dnxhr_hqx") != ("10" in coding.pixels):
        right = "dnxhr_hqx" if "10" in coding.pixels else "dnxhr_hq"
        return f"{place} — {coding.profile} does not hold {coding.pixels} — write profile: {right}"
    if delivery.fields is not None and (delivery.container not in codec.fields or coding.encoder in HARDWARE):
        able = ", ".join(f"{name} in {' or '.join(each.fields)}" for name, each in CODECS.items() if each.fields)
        return (
            f"{place} — {coding.encoder} in a {delivery.container} file codes whole pictures only here — delete fields,"
            f" or take {able}"
        )
    return None


def refusal(delivery: Delivery, *, rate: Rate, size: Size, frames: int) -> str | None:
    """Why a movie cannot be made, in one line: what is, what is allowed, what to do. None when it can.

    Args:
        delivery: says how to code.
        rate: pictures a second.
        size: of the pictures.
        frames: how many pictures.
    """
    coding = delivery.picture
    if why := coding_refusal(delivery) or sound_refusal(delivery) or sound_missing(delivery):
        return why
    if CODECS[coding.codec].pieces_by:
        return animation_refusal(delivery, rate=rate, size=size, frames=frames)
    own = file_rate(delivery, rate)
    if (coding.codec == "mpeg2" or delivery.container == "mxf") and own.fps not in _TELEVISION:
        allowed = ", ".join(str(Rate(one)) for one in _TELEVISION)
        return f"{delivery.name}, rate — {own} frames a second are not coded in MPEG-2 and MXF — take one of {allowed}"
    if delivery.fields is not None and (size.height % 4 or frames % 2):
        return (
            f"{delivery.name}, fields — {frames} pictures of {size} — an interlaced frame takes two pictures, of a"
            " height that four divides — choose another size or length"
        )
    least = CODECS[coding.codec].least
    if least is not None and (size.width < least.width or size.height < least.height):
        return (
            f"{delivery.name}, size — {size} is too small for {CODECS[coding.codec].called} — it takes {least} and more"
            " — choose a larger size or another codec"
        )
    return None
