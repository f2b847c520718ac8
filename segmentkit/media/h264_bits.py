"""Units of an H.264 byte stream, and the bits in them. Clauses are those of ITU-T H.264."""

from __future__ import annotations

import re


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


class Reader:
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


class Writer:
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

    @property
    def text(self) -> str:
        """What was written, as ones and zeros."""
        return "".join(self._bits)

    def aligned(self, fill: str) -> bytes:
        """What was written, filled up to whole bytes."""
        return in_bytes(self.text, fill)


def in_bytes(text: str, fill: str = "0") -> bytes:
    """Ones and zeros as bytes, filled up to whole ones."""
    text += fill * (-len(text) % 8)
    return int(text, 2).to_bytes(len(text) // 8, "big")
