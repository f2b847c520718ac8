"""What an encoder is asked for, in the words of the house; `codecs` says it in those of each encoder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from segmentkit.delivery import PictureCoding

Options = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What an encoder is asked for.

    Attributes:
        coding: as the delivery says it.
        group: most frames from one key frame to the next.
        even: whether key frames lie at even distances.
        fields: "top", "bottom" or None.
        still: runs of frames, as first and one after the last, on which next to nothing changes.
        length: how many frames will be encoded, where it is known.
        held: whether the encoder sees only the beginning of a frozen picture; then key frames are asked for one by one,
            and `still` counts frames as it sees them.
    """

    coding: PictureCoding
    group: int
    even: bool
    fields: str | None
    still: Sequence[tuple[int, int]] = ()
    length: int | None = None
    held: bool = False


def rated(coding: PictureCoding, quality: str) -> Options:
    """Constant quality under the name that an encoder has for it, or a bit rate that is not passed within a second."""
    if coding.bit_rate is not None:
        rate = str(coding.bit_rate)
        return {"b": rate, "maxrate": rate, "bufsize": rate}
    return {} if coding.quality is None else {quality: str(coding.quality)}
