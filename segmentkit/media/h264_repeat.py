"""Writes pictures of H.264 that show another one again. Clauses and tables are those of ITU-T H.264."""

from __future__ import annotations

from functools import lru_cache

from segmentkit.media.h264 import MORE, SLICE, Headers, Slice
from segmentkit.media.h264_bits import Writer, escaped, in_bytes

_ONLY_P = 5  # the kind of a slice whose picture has no others (table 7-6)


def repeated(shown: Slice, latest: Slice, order: int, of: Headers) -> bytes:
    """A picture that shows another one again: each of its blocks is skipped (8.4.1.1), nothing leans on it.

    Args:
        shown: of the picture that is repeated; a reference.
        latest: of the reference picture that was decoded last.
        order: its place in showing order.
        of: the headers of all of them, before they were widened.
    """
    count = 1 << of.frame_bits
    number = (latest.number + 1) % count
    write = Writer()
    write.u(SLICE, 8)
    write.ue(0)
    write.ue(_ONLY_P)
    write.ue(0)
    write.u(number, of.frame_bits)
    write.u(order % (1 << of.order_bits + MORE), of.order_bits + MORE)
    write.u(1, 1)  # one picture to lean on
    write.ue(0)
    back = (number - shown.number) % count
    if back == 1:
        write.u(0, 1)
    else:  # it is not the latest one, so it is brought to the front (7.3.3.1)
        write.u(1, 1)
        write.ue(0)
        write.ue(back - 1)
        write.ue(3)
    if of.weighted:
        write.ue(0)
        write.ue(0)
        write.u(0, 2)  # as it is
    write.ue(_START)
    write.se(_QUANTISER - of.quantiser)
    if of.filtered:
        write.ue(1)  # nothing is smoothed
    return escaped(write.aligned("1") + _skipped(of.blocks))


_START, _QUANTISER = 2, 51
"""Which start of the statistics, and for which quantiser: the pair for which a skipped block costs least."""
_FROM = ((29 * _QUANTISER >> 4) + 16) - 64
"""First state of a skipped block's statistics for that pair (9.3.1.1, table 9-13, ctxIdx 11); the likely bit is 1."""
_LEAST_LIKELY = (
    (14, 18, 21, 24), (14, 17, 20, 23), (13, 16, 19, 22), (12, 15, 18, 21), (12, 14, 17, 20), (11, 14, 16, 19),
    (11, 13, 15, 18), (10, 12, 15, 17), (10, 12, 14, 16), (9, 11, 13, 15), (9, 11, 12, 14), (8, 10, 12, 14),
    (8, 9, 11, 13), (7, 9, 11, 12), (7, 9, 10, 12), (7, 8, 10, 11), (6, 8, 9, 11), (6, 7, 9, 10), (6, 7, 8, 9),
)  # fmt: skip
"""Ranges of what is not likely, from state 44 on (table 9-44)."""


@lru_cache(maxsize=8)
def _skipped(blocks: int) -> bytes:
    """The coded blocks of a picture of which each is skipped, with the bit that ends a unit (9.3.4)."""
    coder = _Coder()
    state = _FROM
    for block in range(blocks):
        coder.likely(_LEAST_LIKELY[state - 44])
        state = min(state + 1, 62)
        coder.last(block + 1 == blocks)
    return coder.done()


class _Coder:
    """The arithmetic coder of 9.3.4, for likely decisions and ends only."""

    def __init__(self) -> None:
        self._low, self._range = 0, 510
        self._first, self._outstanding = True, 0
        self._bits: list[str] = []

    def likely(self, ranges: tuple[int, ...]) -> None:
        """A decision that is as likely as not to be as expected."""
        self._range -= ranges[self._range >> 6 & 3]
        self._renew()

    def last(self, ends: bool) -> None:
        """Whether the slice ends here (9.3.4.5)."""
        self._range -= 2
        if ends:
            self._low += self._range
            self._range = 2
        self._renew()

    def done(self) -> bytes:
        """All bits, in whole bytes."""
        self._put(self._low >> 9 & 1)
        self._bits.append(f"{self._low >> 7 & 3 | 1:02b}")
        return in_bytes("".join(self._bits))

    def _renew(self) -> None:
        while self._range < 256:
            if self._low < 256:
                self._put(0)
            elif self._low >= 512:
                self._low -= 512
                self._put(1)
            else:
                self._low -= 256
                self._outstanding += 1
            self._range <<= 1
            self._low <<= 1

    def _put(self, bit: int) -> None:
        if self._first:
            self._first = False
        else:
            self._bits.append(str(bit))
        self._bits.append(str(1 - bit) * self._outstanding)
        self._outstanding = 0
