"""Lays small premultiplied patches over 4:2:0 pictures, in place and only where they lie.

A patch keeps, for each sample, *coverage times code value* in 16 bits, so that

    new = (patch + (255 - coverage) * old) / 255

is exact: white laid over white stays white at every coverage, and grey chroma stays grey. Chroma is averaged from the
premultiplied samples at the place where 4:2:0 has it (level with even luma columns, between two rows), so that no
colour leaks out of a stroke and none is lost inside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect
from segmentkit.media.planes import Planes

Mask = NDArray[np.uint8]
Colour = tuple[int, int, int]

# ITU-R BT.709-6, 3.2 and 3.5: luma weights, and the divisors of B'-Y' and R'-Y'.
RED, GREEN, BLUE = 0.2126, 0.7152, 0.0722
CB_DIVISOR, CR_DIVISOR = 1.8556, 1.5748
_LEFT_SITED = np.array([[0.25, 0.5, 0.25]], np.float32)


@dataclass(frozen=True, slots=True)
class YuvPatch:
    """A premultiplied overlay in the encoder's own samples.

    Attributes:
        x: even canvas column of its left edge; `y` the even row of its upper edge. Both may lie outside the picture.
        luma: uint16, shape (height, width), both even: coverage (0-255) times the luma code (16-235).
        alpha: uint8, same shape: coverage.
        u: uint16, shape (height / 2, width / 2): coverage times the Cb code; `v` the same for Cr.
        alpha_half: uint8, same shape as `u`: coverage at the chroma samples.
        opacity: a further factor for the whole patch, 0 to 1.
    """

    x: int
    y: int
    luma: NDArray[np.uint16]
    alpha: Mask
    u: NDArray[np.uint16]
    v: NDArray[np.uint16]
    alpha_half: Mask
    opacity: float = 1.0

    @property
    def rect(self) -> Rect:
        """The canvas rectangle it covers."""
        return Rect(self.x, self.y, self.alpha.shape[1], self.alpha.shape[0])

    def faded(self, opacity: float) -> YuvPatch:
        """The same patch with its opacity times a factor; shares the samples."""
        return YuvPatch(self.x, self.y, self.luma, self.alpha, self.u, self.v, self.alpha_half, self.opacity * opacity)


def yuv_of(colour: Colour) -> tuple[float, float, float]:
    """Limited-range BT.709 codes (Y', Cb, Cr) of a full-range R'G'B' colour, unrounded."""
    red, green, blue = (part / 255 for part in colour)
    y = RED * red + GREEN * green + BLUE * blue
    return 16 + 219 * y, 128 + 224 * (blue - y) / CB_DIVISOR, 128 + 224 * (red - y) / CR_DIVISOR


def _to_even(array: NDArray[np.uint8], x: int, y: int) -> tuple[NDArray[np.uint8], int, int]:
    """Pads with nothing so that the corner and both sides are even."""
    left, top = x % 2, y % 2
    right, bottom = (left + array.shape[1]) % 2, (top + array.shape[0]) % 2
    if left or top or right or bottom:
        pads = ((top, bottom), (left, right), (0, 0))[: array.ndim]
        array = np.pad(array, pads)
    return array, x - left, y - top


def chroma_sited(plane: NDArray[np.float32]) -> NDArray[np.float32]:
    """Chroma-sited average of full-size samples: weights 1-2-1 around even columns, two rows."""
    padded = cv2.sepFilter2D(plane, -1, _LEFT_SITED, np.ones((1, 1), np.float32), borderType=cv2.BORDER_REPLICATE)
    even = padded[:, ::2]
    half: NDArray[np.float32] = (even[::2] + even[1::2]) * np.float32(0.5)
    return half


def _patch_border(array: NDArray[np.uint8], x: int) -> tuple[NDArray[np.uint8], int]:
    """Room for chroma that reaches one column further than the luma it belongs to."""
    pads = ((0, 0), (2, 2), (0, 0))[: array.ndim]
    return np.pad(array, pads), x - 2


def patch_from_rgba(rgba: NDArray[np.uint8], x: int, y: int) -> YuvPatch:
    """Makes a patch of a picture.

    Args:
        rgba: uint8, shape (height, width, 4), full-range BT.709 R'G'B' **premultiplied** by the coverage in channel 3.
        x: canvas column of its left edge, even or odd.
        y: canvas row of its upper edge, even or odd.
    """
    even, x, y = _to_even(rgba, x, y)
    if even[:, 0, 3].any() or even[:, -1, 3].any():
        even, x = _patch_border(even, x)
    red, green, blue, alpha = (even[..., k].astype(np.float32, order="C") for k in range(4))
    y_full = RED * red + GREEN * green + BLUE * blue
    luma = 16 * alpha + 219 * y_full
    # Coverage is halved and rounded first: code 128 must meet the very coverage that it will be divided by.
    alpha_half = np.rint(chroma_sited(alpha))
    u = 128 * alpha_half + (224 / CB_DIVISOR) * chroma_sited(blue - y_full)
    v = 128 * alpha_half + (224 / CR_DIVISOR) * chroma_sited(red - y_full)
    ceiling = 240 * alpha_half
    return YuvPatch(
        x,
        y,
        np.rint(luma).astype(np.uint16),
        np.ascontiguousarray(even[..., 3]),
        np.rint(np.clip(u, 16 * alpha_half, ceiling)).astype(np.uint16),
        np.rint(np.clip(v, 16 * alpha_half, ceiling)).astype(np.uint16),
        alpha_half.astype(np.uint8),
    )


def patch_from_layers(layers: Sequence[tuple[Mask, Colour]], x: int, y: int) -> YuvPatch:
    """Makes a patch of plain colours.

    Args:
        layers: coverages (uint8, all of one shape) with their colours. They share the area: at no sample do the
            coverages add up to more than 255.
        x: canvas column of the left edge, even or odd.
        y: canvas row of the upper edge, even or odd.
    """
    shape = layers[0][0].shape
    stack = np.empty((*shape, len(layers)), np.uint8)
    for k, (mask, _) in enumerate(layers):
        stack[..., k] = mask
    stack, x, y = _to_even(stack, x, y)
    if stack[:, 0].any() or stack[:, -1].any():
        stack, x = _patch_border(stack, x)
    height, width = stack.shape[:2]
    luma, alpha = np.zeros((height, width), np.uint16), np.zeros((height, width), np.uint8)
    u = np.zeros((height // 2, width // 2), np.uint16)
    v, alpha_half = np.zeros_like(u), np.zeros(u.shape, np.uint8)
    for k, (_, colour) in enumerate(layers):
        mask = np.ascontiguousarray(stack[..., k])
        half = np.minimum(np.rint(chroma_sited(mask.astype(np.float32))), 255 - alpha_half.astype(np.float32))
        code_y, code_u, code_v = yuv_of(colour)
        luma += np.rint(mask * np.float32(code_y)).astype(np.uint16)
        u += np.rint(half * np.float32(code_u)).astype(np.uint16)
        v += np.rint(half * np.float32(code_v)).astype(np.uint16)
        alpha += mask
        alpha_half += half.astype(np.uint8)
    return YuvPatch(x, y, luma, alpha, u, v, alpha_half)


def dim(mask: Mask, colour: Colour, x: int, y: int, strength: float) -> YuvPatch:
    """A patch that draws the picture towards a dark colour.

    Args:
        mask: uint8, shape (height, width): 255 where the full strength applies.
        colour: what it is drawn towards.
        x: canvas column of the left edge.
        y: canvas row of the upper edge.
        strength: 0 for nothing, 1 for the plain colour.
    """
    covered = np.asarray(cv2.convertScaleAbs(mask, alpha=strength), np.uint8)
    return patch_from_layers([(covered, colour)], x, y)


def _over(old: NDArray[np.uint8], patch: NDArray[np.uint16], alpha: Mask, opacity: float) -> None:
    """Blends one plane in place; all arrays of one shape."""
    mixed = np.asarray(cv2.multiply(old, cv2.bitwise_not(alpha), dtype=cv2.CV_16U), np.uint16)
    # Division by 255 with rounding, exact for every product of two bytes: (t + 128 + (t + 128 >> 8)) >> 8.
    mixed += patch
    mixed += np.uint16(128)
    mixed += mixed >> 8
    mixed >>= 8
    new = mixed.astype(np.uint8)
    if opacity < 1:
        new = np.asarray(cv2.addWeighted(new, opacity, np.ascontiguousarray(old), 1 - opacity, 0), np.uint8)
    old[...] = new


def blend(frame: Planes, patch: YuvPatch, opacity: float = 1.0) -> None:
    """Lays a patch over a picture, in place; what falls outside the picture is cut off.

    Args:
        frame: the picture to change; only samples within the patch's rectangle are touched.
        patch: what is laid over it.
        opacity: a factor for the whole patch, 0 to 1.
    """
    opacity *= patch.opacity
    height, width = frame.y.shape
    left, top = max(0, patch.x), max(0, patch.y)
    right = min(width, patch.x + patch.alpha.shape[1])
    bottom = min(height, patch.y + patch.alpha.shape[0])
    if opacity <= 0 or left >= right or top >= bottom:
        return
    here = slice(top, bottom), slice(left, right)
    there = slice(top - patch.y, bottom - patch.y), slice(left - patch.x, right - patch.x)
    _over(frame.y[here], patch.luma[there], patch.alpha[there], opacity)
    here, there = _halved(here), _halved(there)
    _over(frame.u[here], patch.u[there], patch.alpha_half[there], opacity)
    _over(frame.v[here], patch.v[there], patch.alpha_half[there], opacity)


def _halved(window: tuple[slice, slice]) -> tuple[slice, slice]:
    rows, columns = window
    return slice(rows.start // 2, rows.stop // 2), slice(columns.start // 2, columns.stop // 2)


def uncovered(patch: YuvPatch, part: float, *, soft: float, slant: float, leftwards: bool = False) -> YuvPatch:
    """The part of a patch that an edge has passed on its way across.

    Args:
        patch: the whole.
        part: 0 when the edge has not started, 1 when it has passed everything.
        soft: width of the edge as a part of the patch's width.
        slant: how far the edge leans, as a part of the patch's height.
        leftwards: whether the edge runs from right to left.
    """
    if part >= 1:
        return patch
    height, width = patch.alpha.shape
    columns = np.arange(width, dtype=np.float32)[None, :] + np.float32(0.5)
    rows = np.arange(height, dtype=np.float32)[:, None]
    reach = columns if not leftwards else width - columns
    blur = max(8.0, soft * width)
    travel = max(0.0, part) * (width + blur + slant * height)
    shown = np.clip((np.float32(travel) - reach - np.float32(slant) * rows) / np.float32(blur), 0, 1)
    whole = np.rint(255 * shown * shown * (3 - 2 * shown)).astype(np.uint8)
    half = np.rint(chroma_sited(whole.astype(np.float32))).astype(np.uint8)
    alpha, alpha_half = _scaled(patch.alpha, whole), _scaled(patch.alpha_half, half)
    return YuvPatch(
        patch.x, patch.y, _followed(patch.luma, patch.alpha, alpha), alpha,
        _followed(patch.u, patch.alpha_half, alpha_half), _followed(patch.v, patch.alpha_half, alpha_half), alpha_half,
        patch.opacity,
    )  # fmt: skip


def _scaled(alpha: Mask, part: Mask) -> Mask:
    return np.asarray(np.rint(alpha.astype(np.float32) * part / 255), np.uint8)


def _followed(codes: NDArray[np.uint16], before: Mask, after: Mask) -> NDArray[np.uint16]:
    """Premultiplied codes for a smaller coverage: the colour stays."""
    ratio = after.astype(np.float32) / np.maximum(before, 1).astype(np.float32)
    return np.asarray(np.rint(codes.astype(np.float32) * ratio), np.uint16)
