"""As much of H.264 as is needed to read headers, and to write pictures that repeat the one before.

Clauses and tables are those of ITU-T H.264. Only what one encoder writes here is understood: whole frames in one slice
each, 4:2:0 in eight bits, arithmetic coding. Everything else is an `Unfit`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

SLICE, KEY_SLICE, SEQUENCE, PICTURE = 1, 5, 7, 8
"""Kinds of NAL units (table 7-1): a slice, a slice of a picture at which decoding may start, and both headers."""
_HIGH = 100
_P, _B, _I = 0, 1, 2
_HEAD = 64  # bytes of a slice in which its header lies, generously


class Unfit(Exception):
    """This stream is coded in a way that is not understood here."""


def units(data: bytes) -> list[bytes]:
    """The NAL units of a byte stream with start codes (annex B), without those."""
    parts = re.split(rb"\x00\x00\x01", data)
    # Zeros before a start code belong to it, since a unit never ends with one.
    return [part.rstrip(b"\0") for part in parts[1:]]


def stream(nal_units: list[bytes]) -> bytes:
    """NAL units as a byte stream."""
    return b"".join(b"\0\0\0\1" + unit for unit in nal_units)


def counted(data: bytes) -> bytes:
    """A byte stream as an MP4 file keeps it: the length of each unit in four bytes, then the unit."""
    return b"".join(len(unit).to_bytes(4, "big") + unit for unit in units(data))


def unescaped(unit: bytes) -> bytes:
    """A unit without the bytes that keep start codes out of it (7.4.1.1)."""
    return unit.replace(b"\0\0\3", b"\0\0")


def escaped(unit: bytes) -> bytes:
    """The opposite of `unescaped`."""
    return re.sub(rb"\x00\x00(?=[\x00-\x03])", b"\0\0\3", unit)


class _Reader:
    """Bits of a unit, from the one behind its first byte."""

    def __init__(self, unit: bytes) -> None:
        self._bits = int.from_bytes(unit, "big")
        self._left = self.length = 8 * len(unit)
        self.u(8)

    @property
    def at(self) -> int:
        """How many bits were read, with those of the first byte."""
        return self.length - self._left

    def u(self, count: int) -> int:
        """An unsigned number of so many bits."""
        self._left -= count
        if self._left < 0:
            raise Unfit("a header ends too soon")
        return self._bits >> self._left & (1 << count) - 1

    def ue(self) -> int:
        """A number in the code of 9.1."""
        zeros = 0
        while not self.u(1):
            zeros += 1
        return (1 << zeros) - 1 + self.u(zeros)

    def se(self) -> int:
        """The same, with a sign."""
        code = self.ue()
        return (code + 1) // 2 if code % 2 else -(code // 2)


class _Writer:
    """Bits of a unit that is written."""

    def __init__(self) -> None:
        self._bits: list[str] = []

    def u(self, value: int, count: int) -> None:
        """An unsigned number in so many bits."""
        self._bits.append(f"{value:0{count}b}" if count else "")

    def ue(self, value: int) -> None:
        """A number in the code of 9.1."""
        text = f"{value + 1:b}"
        self._bits.append("0" * (len(text) - 1) + text)

    def se(self, value: int) -> None:
        """The same, with a sign."""
        self.ue(2 * value - 1 if value > 0 else -2 * value)

    def aligned(self, fill: str) -> bytes:
        """What was written, filled up to whole bytes."""
        text = "".join(self._bits)
        text += fill * (-len(text) % 8)
        return int(text, 2).to_bytes(len(text) // 8, "big")


@dataclass(frozen=True, slots=True, kw_only=True)
class Headers:
    """What sequence and picture header say (7.3.2.1, 7.3.2.2).

    Attributes:
        blocks: macroblocks of a picture.
        frame_bits: bits of the number that counts reference pictures.
        order_bits: bits of the number that says a picture's place in showing order.
        order_at: where that length stands in the sequence header, in bits; `order_end` the bit behind it.
        fixed_at: where the sequence header says whether the rate is constant.
        reordered: how many pictures decoding is ahead of showing, at most.
        unit: the sequence header, unescaped.
        others: the other units, as they are.
        weighted: whether P pictures carry weights.
        filtered: whether slices say how they are filtered.
        quantiser: from which the slices' ones count.
    """

    blocks: int
    frame_bits: int
    order_bits: int
    order_at: int
    order_end: int
    fixed_at: int
    reordered: int
    unit: bytes
    others: tuple[bytes, ...]
    weighted: bool
    filtered: bool
    quantiser: int


def headers(extradata: bytes) -> Headers:
    """Reads what an encoder says before its pictures, as a byte stream with start codes.

    Raises:
        Unfit: when it codes in another way.
    """
    found = units(extradata)
    sequences = [unit for unit in found if unit[0] & 31 == SEQUENCE]
    pictures = [unit for unit in found if unit[0] & 31 == PICTURE]
    if len(sequences) != 1 or len(pictures) != 1:
        raise Unfit("there is not one header of each kind")
    return _sequence(
        unescaped(sequences[0]),
        tuple(unit for unit in found if unit is not sequences[0]),
        _picture(unescaped(pictures[0])),
    )


def _sequence(unit: bytes, others: tuple[bytes, ...], picture: tuple[bool, bool, int]) -> Headers:
    read = _Reader(unit)
    profile = read.u(8)
    read.u(16)
    _want(read.ue() == 0)
    if profile == _HIGH:
        _want((read.ue(), read.ue(), read.ue()) == (1, 0, 0))  # 4:2:0 in eight bits
        _want(read.u(2) == 0)  # neither lossless nor with matrices of its own
    else:
        _want(profile == 77)
    frame_bits = 4 + read.ue()
    _want(read.ue() == 0)  # places in showing order are written out
    order_at = read.at
    order_bits = 4 + read.ue()
    order_end = read.at
    read.ue()
    read.u(1)
    columns, rows = read.ue() + 1, read.ue() + 1
    _want(read.u(1) == 1)  # whole frames
    read.u(1)
    if read.u(1):
        for _ in range(4):
            read.ue()
    fixed_at, reordered = _usability(read)
    weighted, filtered, quantiser = picture
    return Headers(
        blocks=columns * rows, frame_bits=frame_bits, order_bits=order_bits, order_at=order_at, order_end=order_end,
        fixed_at=fixed_at, reordered=reordered, unit=unit, others=others, weighted=weighted, filtered=filtered,
        quantiser=quantiser,
    )  # fmt: skip


def _usability(read: _Reader) -> tuple[int, int]:
    """Where the constant rate is said, and the depth of reordering (E.1.1)."""
    _want(read.u(1) == 1)
    if read.u(1) and read.u(8) == 255:
        read.u(32)
    if read.u(1):
        read.u(1)
    if read.u(1):
        read.u(4)
        if read.u(1):
            read.u(24)
    if read.u(1):
        read.ue()
        read.ue()
    _want(read.u(1) == 1)
    read.u(64)
    fixed_at = read.at
    read.u(1)
    _want(read.u(2) == 0)  # no model of a decoder's buffer, in which each picture would count
    read.u(1)
    _want(read.u(1) == 1)
    read.u(1)
    for _ in range(4):
        read.ue()
    return fixed_at, read.ue()


def _picture(unit: bytes) -> tuple[bool, bool, int]:
    """Of a picture header: weights, filters, quantiser."""
    read = _Reader(unit)
    _want(read.ue() == 0 and read.ue() == 0)
    _want(read.u(1) == 1)  # arithmetic coding
    _want(read.u(1) == 0)
    _want(read.ue() == 0)  # one group of slices
    read.ue()
    read.ue()
    weighted = read.u(1) == 1
    _want(read.u(2) == 0)  # weights of B pictures that follow from places would change with these
    quantiser = 26 + read.se()
    read.se()
    read.se()
    filtered = read.u(1) == 1
    read.u(1)
    _want(read.u(1) == 0)
    return weighted, filtered, quantiser


def _want(good: bool) -> None:
    if not good:
        raise Unfit("the stream is coded in another way")


_MORE = 8
"""Bits by which places in showing order grow: whole bytes, so that what follows them stays as it is."""


def widened(of: Headers) -> bytes:
    """The headers with room for far places in showing order, and with a constant rate."""
    text = f"{int.from_bytes(of.unit, 'big'):0{8 * len(of.unit)}b}"
    text = text[: of.fixed_at] + "1" + text[of.fixed_at + 1 :]
    code = _Writer()
    code.ue(of.order_bits - 4 + _MORE)
    grown = text[: of.order_at] + "".join(code._bits) + text[of.order_end :].rstrip("0")
    grown += "0" * (-len(grown) % 8)
    unit = int(grown, 2).to_bytes(len(grown) // 8, "big")
    return stream([escaped(unit), *of.others])


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """What the header of a slice says (7.3.3).

    Attributes:
        unit: the slice, unescaped.
        key: whether decoding may start here.
        reference: whether others lean on it.
        kind: "P", "B" or "I".
        number: of reference pictures up to here, within its bits.
        order: its place in showing order, within its bits.
        order_at: where that stands, in bits.
    """

    unit: bytes
    key: bool
    reference: bool
    kind: str
    number: int
    order: int
    order_at: int


def slice_of(unit: bytes, of: Headers) -> Slice:
    """Reads the header of a slice.

    Raises:
        Unfit: when it is none.
    """
    plain = unescaped(unit)
    _want(plain[0] & 31 in {SLICE, KEY_SLICE})
    read = _Reader(plain[:_HEAD])
    read.ue()
    kind = read.ue() % 5
    _want(kind in {_P, _B, _I} and read.ue() == 0)
    number = read.u(of.frame_bits)
    key = plain[0] & 31 == KEY_SLICE
    if key:
        read.ue()
    order_at = read.at
    return Slice(
        unit=plain, key=key, reference=plain[0] >> 5 & 3 > 0, kind="PBI"[kind], number=number,
        order=read.u(of.order_bits), order_at=order_at,
    )  # fmt: skip


def placed(one: Slice, order: int, of: Headers) -> bytes:
    """A slice with another place in showing order, in as many bits as `widened` headers say."""
    byte, bit = divmod(one.order_at, 8)
    # A whole byte comes in, so only the bytes around it change.
    size = (bit + of.order_bits + 7) // 8
    bits = f"{int.from_bytes(one.unit[byte : byte + size], 'big'):0{8 * size}b}"
    wide = of.order_bits + _MORE
    bits = bits[:bit] + f"{order % (1 << wide):0{wide}b}" + bits[bit + of.order_bits :]
    return escaped(one.unit[:byte] + int(bits, 2).to_bytes(size + 1, "big") + one.unit[byte + size :])


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
    write = _Writer()
    write.u(SLICE, 8)
    write.ue(0)
    write.ue(_P + 5)
    write.ue(0)
    write.u(number, of.frame_bits)
    write.u(order % (1 << of.order_bits + _MORE), of.order_bits + _MORE)
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
        text = "".join(self._bits)
        text += "0" * (-len(text) % 8)
        return int(text, 2).to_bytes(len(text) // 8, "big")

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
