"""How numbers and names are said in findings, so that they read alike everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from segmentkit.timebase import Rate, clock_text, seconds_of_frame, seconds_text


def seconds(value: Fraction, places: int = 2) -> str:
    """`2.08 s`."""
    return f"{seconds_text(value, places)[:-1]} s"


def lasting(frames: int, rate: Rate) -> str:
    """`2.08 s (52 frames)`."""
    unit = "frame" if abs(frames) == 1 else "frames"
    return f"{seconds(seconds_of_frame(frames, rate))} ({frames} {unit})"


def clock(frame: int, rate: Rate) -> str:
    """When a frame is on screen, from the start of the segment: `0:57.2`."""
    return clock_text(seconds_of_frame(frame, rate))


def signed(frames: int, rate: Rate) -> str:
    """Over or under as running orders write it, minutes, seconds and frames: `+0:02:05`."""
    whole, rest = divmod(abs(frames), rate.nominal)
    return f"{'-' if frames < 0 else '+'}{whole // 60}:{whole % 60:02}:{rest:02}"


def quoted(text: str, most: int = 60) -> str:
    """The text in quotation marks, its middle left out when it is long."""
    if len(text) > most:
        half = most // 2 - 2
        text = f"{text[:half].rstrip()} … {text[-half:].lstrip()}"
    return f'"{text}"'


def listed(items: Sequence[str], word: str = "and") -> str:
    """`a, b and c`."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} {word} {items[-1]}" if items else "none"


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 word`, `2 words`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def number(value: Fraction | float) -> str:
    """A bare number with at most two decimals: `4`, `4.25`."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".")
