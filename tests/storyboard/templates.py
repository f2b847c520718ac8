"""A small template and values for its tests; values for the shipped ones, in which any fault preset can be drawn."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from segmentkit.storyboard.presets import load_preset
from segmentkit.storyboard.template import Template, load_template

SMALL = """\
template: 1
about: A greeting.
blanks:
  viewer: {kind: person, help: Who is greeted.}
  swing: {kind: clip, person: viewer, view: [face-on], positions: [top], points: {top: [belt]}, help: Their swing.}
  miss: {kind: choice, of: {slice: a slice, hook: a hook}, own: yes, default: slice, help: The miss.}
  wish: {kind: words, most_words: 4, needed: no, help: A last word.}
  title: {kind: text, most_letters: 20, default: Hello, help: The title.}
  loud: {kind: yes/no, default: no, help: Whether it is loud.}
  airs: {kind: date, needed: no, help: The day.}
  again: {kind: date, default: 100 days after airs, help: The day after that.}
  stop: {kind: position, in: swing, default: top, help: Where it stops.}
  spot: {kind: point, default: "0.5, 0.5", help: A spot.}
storyboard:
  # What is made.
  segmentkit: 1
  segment: {title: <title>, slot: 0:12, question: <wish>}
  people:
    # Whoever it is.
    <viewer.id>: <viewer>
  clips: {swing: <swing>}
  beats:
    # The comment goes along.
    - beat: hello
      say:
        join:
          - Hello, [mark] <viewer.shown>. You fight <miss>.
          - {choose: miss, hook: Ah!, own: So!, otherwise: }
          - {when: wish is given, join: ["We wish: <wish.said>"]}
          - {when: again is given, join: ["Until <again.spoken>, the <again.day>, <again.full>."]}
      show:
        - {when: loud is yes, run: {clip: swing, speed: 1}}
        - freeze: {clip: swing, at: <stop>, hold: 1s..20s}
      strokes: {mark: {dot: <spot>}}
    - beat: hook_only
      when: miss is hook
      show: [{freeze: {clip: swing, at: top, hold: 1s}}]
"""
VALUES: dict[str, Any] = {
    "viewer": {"id": "maren", "shown": "Maren", "adult": "yes", "release": {"for": ["web"], "by": "Maren"}},
    "swing": {"file": "clips/a.mp4", "positions": {"top": "f9"}, "points": {"top": {"belt": ["0.4", "0.5"]}}},
}
ROW = {
    "viewer.id": "maren", "viewer.shown": "Maren", "viewer.adult": "yes", "viewer.release.for": "web",
    "viewer.release.by": "Maren", "swing": "clips/a.mp4", "swing.positions.top": "f9",
    "swing.points.top.belt": "0.4 0.5", "wish": "", "miss": "",
}  # fmt: skip
"""The same as a row of a table: texts only, a column a part, some of them empty."""


@cache
def load(name: str) -> Template:
    """A shipped template, read once."""
    return load_template(name)


def clip(preset_name: str, file: str, view: str | None = None) -> dict[str, Any]:
    """A clip that has every position and point a preset, and every shipped template, asks for."""
    preset = load_preset(preset_name, Path())
    names = ("address", "takeaway", "lead_arm_parallel_back", "top", "lead_arm_parallel_down", "impact",
             "shaft_parallel_through", "lead_arm_parallel_through", "finish")  # fmt: skip
    points = {position: {name: ["0.5", "0.6"] for name in wanted} for position, wanted in preset.points.items()}
    points.setdefault("address", {}).update(heel=["0.5", "0.85"], belt=["0.5", "0.55"])
    return {
        "file": file, "view": view or preset.view[0].value,
        "positions": {name: f"f{20 * number}" for number, name in enumerate(names, 1)}, "points": points,
    }  # fmt: skip


def values_for(template: str, preset: str, **more: Any) -> dict[str, Any]:
    """Values for a shipped template with a fault preset; whatever it needs is filled with something plain."""
    made: dict[str, Any] = {}
    shipped = load(template)
    for name in shipped.needed:
        blank = shipped.blanks[name]
        match blank.kind.value:
            case "person":
                made[name] = {"id": name, "shown": name.title(), "adult": "yes", "release": {"for": ["web", "short"]}}
            case "clip":
                made[name] = clip(preset, f"clips/{name}.mp4", blank.view[0].value if blank.view else None)
            case "fault":
                made[name] = preset
            case "date":
                made[name] = "2027-03-06"
            case _:
                made[name] = "Some plain words"
    return made | more
