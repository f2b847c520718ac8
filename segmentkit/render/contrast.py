"""Contrast of text, by WCAG 2.2 (definitions of relative luminance and contrast ratio)."""

from __future__ import annotations

from segmentkit.render.blend import Colour


def luminance(colour: Colour) -> float:
    """Relative luminance of a full-range colour, 0 to 1."""
    linear = [part / 255 / 12.92 if part / 255 <= 0.04045 else ((part / 255 + 0.055) / 1.055) ** 2.4 for part in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: Colour, second: Colour) -> float:
    """Contrast ratio of two colours, 1 to 21; never rounded."""
    high, low = sorted((luminance(first), luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def over(top: Colour, opacity: float, under: Colour) -> Colour:
    """The colour seen where `top` lies over `under`."""
    red, green, blue = (round(opacity * a + (1 - opacity) * b) for a, b in zip(top, under, strict=True))
    return red, green, blue


def worst_contrast(ink: Colour, panel: Colour, opacity: float) -> float:
    """Contrast of ink on a panel that lets some of the picture through, whatever that picture is."""
    return min(contrast(ink, over(panel, opacity, under)) for under in ((0, 0, 0), (255, 255, 255)))
