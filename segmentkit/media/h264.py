"""As much of H.264 as is needed to read headers and to move pictures to other places in showing order.

Clauses and tables are those of ITU-T H.264. Only what one encoder writes here is understood: whole frames, 4:2:0 in
eight bits, arithmetic coding. Everything else is an `Unfit`.
"""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.media.h264_bits import Reader, Unfit, Writer, escaped, in_bytes, stream, unescaped, units

SLICE, KEY_SLICE, SEQUENCE, PICTURE = 1, 5, 7, 8
"""Kinds of NAL units (table 7-1): a slice, a slice of a picture at which decoding may start, and both headers."""
_HIGH = 100
_KINDS = "PBI"
"""Kinds of slices in the order of their numbers (table 7-6); other ones are not written here."""
_HEAD = 64  # bytes of a slice in which its header lies, generously


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
    read = Reader(unit)
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


def _usability(read: Reader) -> tuple[int, int]:
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
    read = Reader(unit)
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


MORE = 8
"""Bits by which places in showing order grow: whole bytes, so that what follows them stays as it is."""


def widened(of: Headers) -> bytes:
    """The headers with room for far places in showing order, and with a constant rate."""
    text = f"{int.from_bytes(of.unit, 'big'):0{8 * len(of.unit)}b}"
    text = text[: of.fixed_at] + "1" + text[of.fixed_at + 1 :]
    code = Writer()
    code.ue(of.order_bits - 4 + MORE)
    grown = text[: of.order_at] + code.text + text[of.order_end :].rstrip("0")
    return stream([escaped(in_bytes(grown)), *of.others])


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
    read = Reader(plain[:_HEAD])
    read.ue()
    kind = read.ue() % 5
    _want(kind < len(_KINDS) and read.ue() == 0)
    number = read.u(of.frame_bits)
    key = plain[0] & 31 == KEY_SLICE
    if key:
        read.ue()
    order_at = read.at
    return Slice(
        unit=plain, key=key, reference=plain[0] >> 5 & 3 > 0, kind=_KINDS[kind], number=number,
        order=read.u(of.order_bits), order_at=order_at,
    )  # fmt: skip


def placed(one: Slice, order: int, of: Headers) -> bytes:
    """A slice with another place in showing order, in as many bits as `widened` headers say."""
    byte, bit = divmod(one.order_at, 8)
    # A whole byte comes in, so only the bytes around it change.
    size = (bit + of.order_bits + 7) // 8
    bits = f"{int.from_bytes(one.unit[byte : byte + size], 'big'):0{8 * size}b}"
    wide = of.order_bits + MORE
    bits = bits[:bit] + f"{order % (1 << wide):0{wide}b}" + bits[bit + of.order_bits :]
    return escaped(one.unit[:byte] + int(bits, 2).to_bytes(size + 1, "big") + one.unit[byte + size :])
