"""Still pictures in and out, and the exact step between RGB and the planes of the house.

Y'CbCr is that of ITU-R BT.709-6, item 3: Y' = 0.2126 R' + 0.7152 G' + 0.0722 B', quantised by item 4 to
Y = 16 + 219 Y' and C = 128 + 224 C'. Stills are taken as sRGB and their values used as BT.709 ones without change of
gamma, which is common practice and keeps graphics at the values they were drawn with.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.errors import MediaUnusable
from segmentkit.facts import StillFacts
from segmentkit.geometry import Size
from segmentkit.media import safe
from segmentkit.media.planes import Planes
from segmentkit.media.store import sha256_of, unreadable

if TYPE_CHECKING:
    from PIL.Image import Image

Rgb = NDArray[np.uint8]
"""uint8, shape (height, width, 3), red first, full range."""

MOST_PIXELS = 64_000_000
_KR, _KB = 0.2126, 0.0722
_KG = 1 - _KR - _KB
_LUMA = 219 / 255 * np.array([[_KR, _KG, _KB]])
_CHROMA = 224 / 255 * np.array([
    [-_KR / (2 * (1 - _KB)), -_KG / (2 * (1 - _KB)), 0.5],
    [0.5, -_KG / (2 * (1 - _KR)), -_KB / (2 * (1 - _KR))],
])  # fmt: skip
_TO_RGB = np.array([
    [255 / 219, 0, 2 * (1 - _KR) * 255 / 224],
    [255 / 219, -2 * (1 - _KB) * _KB / _KG * 255 / 224, -2 * (1 - _KR) * _KR / _KG * 255 / 224],
    [255 / 219, 2 * (1 - _KB) * 255 / 224, 0],
])  # fmt: skip


def rgb_to_planes(rgb: Rgb) -> Planes:
    """An RGB picture as BT.709 planes; an odd last column or row is left out.

    Chroma is the mean of two rows, and along the row of 1:2:1 pixels around the even one, since it is sited there.
    """
    height, width = rgb.shape[0] // 2 * 2, rgb.shape[1] // 2 * 2
    if min(height, width) < 2 or rgb.shape[2] != 3:
        raise ValueError(f"a picture of shape {rgb.shape}: (height, width, 3) of at least 2x2 is converted")
    rgb = np.ascontiguousarray(rgb[:height, :width])
    offset = np.array([[16.0]])
    y = np.asarray(cv2.transform(rgb, np.hstack([_LUMA, offset])), np.uint8)
    rows = rgb[0::2].astype(np.uint16) + rgb[1::2]
    sited = rows[:, 0::2] * 2
    sited += rows[:, 1::2]
    sited[:, 1:] += rows[:, 1:-1:2]
    sited[:, 0] += rows[:, 0]
    chroma = cv2.transform(sited.astype(np.float32), np.hstack([_CHROMA / 8, np.array([[128.0], [128.0]])]))
    exact = np.rint(chroma).astype(np.uint8)
    return Planes(y, np.ascontiguousarray(exact[..., 0]), np.ascontiguousarray(exact[..., 1]))


def planes_to_rgb(planes: Planes) -> Rgb:
    """BT.709 planes as RGB, uint8, shape (height, width, 3); values outside the range of RGB are held at its ends."""
    size = planes.size
    full = np.empty((size.height, size.width, 3), np.float32)
    full[..., 0] = planes.y
    full[..., 0] -= 16
    for index, plane in ((1, planes.u), (2, planes.v)):
        # Between two rows lies the chroma sample: three quarters of the near one and one of the far one.
        tall = cv2.resize(plane.astype(np.float32), (plane.shape[1], size.height), interpolation=cv2.INTER_LINEAR) - 128
        full[:, 0::2, index] = tall
        full[:, 1:-1:2, index] = (tall[:, :-1] + tall[:, 1:]) / 2
        full[:, -1, index] = tall[:, -1]
    rgb = cv2.transform(full, _TO_RGB)
    return np.clip(np.rint(rgb, out=rgb), 0, 255, out=rgb).astype(np.uint8)


def load_still(path: Path) -> tuple[StillFacts, Planes]:
    """Reads a PNG or JPEG upright; what is transparent shows black.

    Returns:
        What it is, and its picture; an odd last column or row is left out.

    Raises:
        MediaUnusable: when there is no such file, it is no PNG or JPEG, is damaged or too large.
    """
    rgb = _read_rgb(path)
    planes = rgb_to_planes(rgb)
    return StillFacts(path=path, content=sha256_of(path), size=planes.size), planes


def still_facts(path: Path) -> StillFacts:
    """What a still is, from its header; a damaged one is found out by `load_still` only.

    Raises:
        MediaUnusable: as `load_still`, but for damage.
    """
    with _opened(path) as image:
        width, height = image.size
        if _may_be_turned(image, path) and image.getexif().get(0x0112, 1) in {5, 6, 7, 8}:
            # Exif 2.32, tag Orientation: rows and columns swapped
            width, height = height, width
    return StillFacts(path=path, content=sha256_of(path), size=Size(width // 2 * 2, height // 2 * 2))


def _may_be_turned(image: Image, path: Path) -> bool:
    """Whether there may be an orientation; Pillow decodes all of a PNG to see what stands behind its pixels.

    Chunks: PNG specification, third edition, 5.3 (a length, a type, the data, a sum) and 11.3.
    """
    if image.format != "PNG" or {"exif", "Raw profile type exif"} & image.info.keys():
        return True
    behind = False
    with path.open("rb") as handle:
        handle.seek(8)
        while len(head := handle.read(8)) == 8:
            behind = behind or head[4:] == b"IDAT"
            if behind and head[4:] in {b"eXIf", b"tEXt", b"zTXt", b"iTXt"}:
                return True
            handle.seek(int.from_bytes(head[:4]) + 4, 1)
    return False


def write_png(path: Path, picture: Planes | Rgb) -> None:
    """Writes a picture as PNG, without dates; the name appears when the file is whole.

    Raises:
        OutputFailed: when it cannot be written.
    """
    rgb = planes_to_rgb(picture) if isinstance(picture, Planes) else picture
    done, data = cv2.imencode(".png", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError(f"a picture of shape {rgb.shape} cannot be a PNG")
    with safe.writing(path) as partial:
        partial.write_bytes(data.tobytes())


def _opened(path: Path) -> Image:
    from PIL import Image, UnidentifiedImageError  # noqa: PLC0415  only stills need it

    try:
        with warnings.catch_warnings():  # our own limit is lower than the one Pillow only warns about
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(path, formats=("PNG", "JPEG"))
    except UnidentifiedImageError:
        raise MediaUnusable(_not_read(path)) from None
    except Image.DecompressionBombError:
        raise MediaUnusable(_too_large(path, "far too many pixels")) from None
    except OSError as error:
        raise MediaUnusable(unreadable(path, error)) from error
    except (ValueError, SyntaxError) as error:
        raise MediaUnusable(_damaged(path, error)) from error
    width, height = image.size
    if width * height > MOST_PIXELS:
        image.close()
        raise MediaUnusable(_too_large(path, f"{width}x{height} pixels"))
    if width < 2 or height < 2:
        image.close()
        raise MediaUnusable(f"{path} — is {width}x{height} pixels — at least 2x2 are needed — use a larger picture")
    return image


def _read_rgb(path: Path) -> Rgb:
    from PIL import Image, ImageOps  # noqa: PLC0415

    try:
        with _opened(path) as image:
            upright = ImageOps.exif_transpose(image)
            profile = upright.info.get("icc_profile")
            if upright.mode.startswith("I"):  # 16 bits a channel, grey
                upright = Image.fromarray((np.asarray(upright, np.int64) >> 8).clip(0, 255).astype(np.uint8))
            if upright.has_transparency_data:
                straight = np.asarray(upright.convert("RGBA"), np.uint16)
                blended = (straight[..., :3] * straight[..., 3:] + 127) // 255
                return blended.astype(np.uint8)
            return np.asarray(_standard(upright, profile), np.uint8)
    except (OSError, ValueError, SyntaxError) as error:
        raise MediaUnusable(_damaged(path, error)) from error


def _standard(image: Image, profile: bytes | None) -> Image:
    """The picture in sRGB; phones save in wider spaces and say so by a profile."""
    from PIL import ImageCms  # noqa: PLC0415

    if profile and image.mode in {"RGB", "CMYK", "L"}:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            target = ImageCms.createProfile("sRGB")
            converted = ImageCms.profileToProfile(image, source, cast("Any", target), outputMode="RGB")
        except ImageCms.PyCMSError:
            return image.convert("RGB")
        return converted or image.convert("RGB")
    return image.convert("RGB")


def _not_read(path: Path) -> str:
    try:
        with path.open("rb") as handle:
            head = handle.read(32)
    except OSError as error:
        return unreadable(path, error)
    if not head:
        return f"{path} — is empty, 0 bytes — a still is a PNG or JPEG — ask for the picture again"
    if head[4:12] in {b"ftypheic", b"ftypheix", b"ftypmif1", b"ftyphevc"}:
        return f"{path} — is an HEIC picture — PNG and JPEG are read — export it as JPEG"
    return f"{path} — is no PNG or JPEG — these two are read — export it as one of them"


def _too_large(path: Path, what: str) -> str:
    return f"{path} — has {what} — at most {MOST_PIXELS // 1_000_000} million are taken — scale it down"


def _damaged(path: Path, error: Exception) -> str:
    return f"{path} — is damaged ({error}) — a still must decode whole — ask for the picture again"
