"""HDR and wide-gamut pictures to BT.709: the curves and matrices as tables that filters look up.

Light on the screen is worked out as ITU-R BT.2100-2 says: table 4 for PQ, table 5 for HLG with its system gamma of 1.2
on the luminance, which keeps saturated colours right. It is brought to the primaries of BT.709 by the inverse of matrix
M2 of ITU-R BT.2087 and coded by the inverse of ITU-R BT.1886 (power 2.4). HDR reference white, 203 cd/m2 by ITU-R
BT.2408, becomes white; what is brighter is cut off.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

REFERENCE_WHITE = 203.0
HLG_PEAK = 1000.0
_STEPS = 49  # points along an edge; looking up between them is off by half an 8-bit step on average
_CURVE_STEPS = 16_384
_LUMINANCE_2020 = np.array([0.2627, 0.6780, 0.0593])
_TO_2020 = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]])


def light_of_pq(signal: Values) -> Values:
    """Light in cd/m2 of PQ values from 0 to 1 (BT.2100-2, table 4, EOTF)."""
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    power = signal ** (1 / m2)
    return np.asarray(10_000 * (np.maximum(power - c1, 0) / (c2 - c3 * power)) ** (1 / m1), np.float64)


def light_of_hlg(signal: Values) -> Values:
    """Light in cd/m2 of HLG values from 0 to 1, shape (..., 3), on a screen of 1000 cd/m2 (BT.2100-2, table 5)."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    scene = np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12)
    luminance = (scene @ _LUMINANCE_2020)[..., None]
    return np.asarray(HLG_PEAK * np.maximum(luminance, 1e-12) ** 0.2 * scene, np.float64)


def to_bt709_light(signal: Values, transfer: str) -> Values:
    """R'G'B' of BT.2020, 0 to 1, shape (..., 3), as light of BT.709, 1 for white.

    Colours outside BT.709 have values below 0 or above 1. They are left so, and cut off after the table was looked up:
    cut off before, the edge would be blurred between its points.

    Args:
        signal: as decoded.
        transfer: `arib-std-b67` (HLG), `smpte2084` (PQ), or empty for the curve of standard range.
    """
    match transfer:
        case "arib-std-b67":
            light = light_of_hlg(signal) / REFERENCE_WHITE
        case "smpte2084":
            light = light_of_pq(signal) / REFERENCE_WHITE
        case _:
            light = signal**2.4
    return np.asarray(light @ np.linalg.inv(_TO_2020).T, np.float64)


@contextlib.contextmanager
def tables(transfer: str) -> Iterator[tuple[Path, Path]]:
    """Lends two files: signal to light as a table of 49x49x49 points, red fastest, and the curve from light to signal.

    In light the table is smooth, and so are the values between its points; the curve alone would bend them near black.
    """
    axis = np.linspace(0, 1, _STEPS)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    light = to_bt709_light(np.stack([red, green, blue], axis=-1), transfer).reshape(-1, 3)
    curve = np.repeat(np.linspace(0, 1, _CURVE_STEPS)[:, None] ** (1 / 2.4), 3, axis=1)
    with tempfile.TemporaryDirectory() as folder:
        paths = Path(folder) / "light.cube", Path(folder) / "curve.cube"
        _write(paths[0], f"LUT_3D_SIZE {_STEPS}", light)
        _write(paths[1], f"LUT_1D_SIZE {_CURVE_STEPS}", curve)
        yield paths


def _write(path: Path, head: str, values: Values) -> None:
    with path.open("w") as handle:
        handle.write(f"{head}\n")
        np.savetxt(handle, values, fmt="%.7f")
