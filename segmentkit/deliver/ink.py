"""The colours of paper work: slate sea, sand, marram grass and a low sun, dark enough to read in print."""

from __future__ import annotations

PAPER = "#fbf7ee"
PANEL = "#f3ecdc"
LINE = "#d9cdb4"
INK = "#1b2f37"
QUIET = "#6d6a5e"
SEA = "#2c5560"
SEA_PALE = "#c9d9da"
SLATE = "#173540"
SAND = "#e6d6b4"
SAND_DEEP = "#8a6534"
GRASS = "#62745a"
SUN = "#a9591a"
SLACK = "#c4bfb2"
WARNING = "#b3261e"
CAUTION = "#e0a916"

STROKES = {"reference": "#55636a", "fault": "#c53a18", "good": "#0f7a71"}
"""What each role of a stroke is drawn in; on white, each has at least 4.5 to 1 (WCAG 2.2, 1.4.3)."""
VOICES = (SEA, SAND_DEEP, "#7a4a63", GRASS)
"""One for each speaker, in the order in which they are first heard."""
