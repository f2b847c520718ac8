"""Storyboards for tests: a whole one that uses most keys, and a long one for timing."""

from __future__ import annotations

from segmentkit.storyboard.load import LoadedStoryboard, loads

FILE = "lesson.yaml"
LESSON = """\
segmentkit: 1
segment:
  title: Hips toward the ball
  slot: 3:00
  rate: 25
  size: 1920x1080
people:
  marta: {shown: Marta, handed: right, release: {for: [broadcast, web], from: 2026-01-01, until: 2028-06-30}}
  ines: {shown: our demonstrator, release: {for: [broadcast, web]}}
clips:
  marta_dtl:
    file: clips/marta-dtl.mp4
    person: marta
    view: down-the-line
    captured: 120 fps
    mirrored: no
    positions: {address: 0.42s, top: 1.55s, impact: f218}
    points:
      address: {belt: [0.46, 0.52], heel: [0.43, 0.86]}
  ines_dtl: {file: clips/ines-dtl.mp4, person: ines, positions: {impact: 1.8s}}
stills:
  course: {file: stills/course.jpg}
speakers:
  host: {shown: The host}
  coach: {line: telephone, level: -3 dB}
voice:
  takes: takes
  lead: 0.4s
  good: {impact: t02}
music:
  - {file: music/bed.wav, from: open, until: drill, fade_in: 0.5s}
beats:
  - beat: open
    say: Welcome back.
    show:
      - title: {main: Hips, over: {still: course}, hold: 3s..5s}
    cards:
      - lower_third: {person: marta, at: 1s}
  - beat: impact
    say:
      - host: Stop it at impact.
      - pause: 0.5s
      - coach: There's [hip_gap] daylight between her hips and that [line] line.
    show:
      - run: {clip: marta_dtl, from: top, to: impact, speed: 1/8}
      - freeze: {clip: marta_dtl, at: impact, hold: 6s..13s}
    strokes:
      line: {line: [address.belt, [0.46, 0.90]]}
      hip_gap: {double_arrow: [[0.47, 0.52], [0.52, 0.52]], role: fault, draw: 0.8s}
  - beat: compare
    say: >
      Side by side, look
      at [room] the room.
    show:
      - split: {left: {clip: marta_dtl, at: impact}, right: {clip: ines_dtl, at: impact}, match: [ground], hold: 10s}
    keep: [line]
    strokes:
      room: {ring: {centre: [0.5, 0.5], radius: 0.1}, on: right}
  - beat: drill
    rigid: yes
    say: Now the [drill] drill.
    show:
      - still: {still: course, hold: 12s}
    cards:
      - drill: {name: Wall drill, count: 10 slow turns, safety: No club near the wall, cue: drill}
deliver: [broadcast, web]
"""


def lesson(*changes: tuple[str, str]) -> str:
    """The lesson with pieces of its text replaced, each once."""
    text = LESSON
    for old, new in changes:
        assert old in text, f"the lesson has no {old!r}"
        text = text.replace(old, new, 1)
    return text


def loaded(*changes: tuple[str, str]) -> LoadedStoryboard:
    """The lesson, read."""
    return loads(lesson(*changes), FILE)


def long_lesson(beats: int = 13, strokes: int = 40) -> str:
    """A storyboard of three minutes with many beats and strokes, each on a word."""
    lines = [
        "segmentkit: 1",
        "segment: {title: A long one, slot: 3:00, rate: 30000/1001}",
        "people: {marta: {shown: Marta, adult: yes, release: {for: [broadcast, web]}}}",
        "clips:",
        "  swing: {file: swing.mp4, person: marta, positions: {impact: f218}, points: {impact: {hip: [0.4, 0.5]}}}",
        "beats:",
    ]
    for beat in range(beats):
        ids = [f"stroke_{stroke}" for stroke in range(strokes) if stroke % beats == beat]
        words = " ".join(f"and here we look at [{id_}] this one word" for id_ in ids)
        lines += [
            f"  - beat: beat_{beat}",
            f"    say: {words}",
            "    show:",
            "      - run: {clip: swing, from: start, to: impact, speed: 1/4}",
            "      - freeze: {clip: swing, at: impact, hold: 6s..14s}",
            "    strokes:",
            *(
                f"      {id_}: {{line: [impact.hip, [0.5{n}, 0.6], [0.7, 0.8]], role: fault}}"
                for n, id_ in enumerate(ids)
            ),
        ]
    return "\n".join([*lines, "deliver: [broadcast, web]", ""])
