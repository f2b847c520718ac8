"""A short lesson with words in braces, two voices, and something that hangs on each word; and its plan."""

from __future__ import annotations

from fractions import Fraction

from segmentkit.facts import Facts
from segmentkit.plan.build import build_plan
from segmentkit.plan.model import Plan
from segmentkit.storyboard.load import LoadedStoryboard, loads
from tests.plan.footage import A_WORD, clip_facts, spoken

LESSON = """\
# The comments and the odd spacing are there to be kept.
segmentkit: 1
segment: {{title: Keep your room, slot: {slot}, rate: {rate}}}   # to the frame
people:
  maren: {{shown: Maren, adult: yes, release: {{for: [web]}}}}
clips:
  viewer:
    file: v.mp4
    person: maren
    positions: {{address: 0.4s, top: f180, impact: f210}}
speakers:
  coach: {{shown: Aksel}}
  host: {{shown: Jonna}}
voice: {{lead: 0.4s, tail: 0.4s}}
beats:
  - beat: open
    show:
      - title: {{main: Keep your room, hold: 2s..4s..6s}}
    gives: 1
  - beat: praise
    say:
      - host: Let's see your swing. {{It has plenty to like.}}
      - pause: 0.6s
      - coach: >
          Good balance and a full turn. {{And don't mind the lines: they always look harsher than they
          really are.}}
    show:
      - run: {{clip: viewer, from: address, to: impact, speed: 1/2}}
      - freeze: {{clip: viewer, at: impact, hold: 1s..30s}}  # long enough for both
  - beat: impact
    say: >
      Stop it at impact now. There's [gap] daylight between your hips and that line.
      {{And [ball] the ball is further off, too.}}
    show:
      - freeze: {{clip: viewer, at: impact, hold: 4s..8s..40s}}
    strokes:
      gap: {{line: [[0.4, 0.5], [0.5, 0.5]], role: fault}}
      ball: {{dot: [0.6, 0.9]}}
  - beat: drill
    rigid: yes
    say: Ten slow turns, once a day.
    show:
      - freeze: {{clip: viewer, at: address, soften: yes, hold: 6s}}
    cards:
      - drill: {{name: Wall drill, count: 10, safety: No club near the wall}}
  - beat: end
    show:
      - end_board:
          main: Send us your swing
          lines: [Warm up first.]
"""


def lesson(slot: str = "0:50", rate: str = "25") -> LoadedStoryboard:
    return loads(LESSON.format(slot=slot, rate=rate))


def lesson_facts(loaded: LoadedStoryboard, a_word: Fraction = A_WORD) -> Facts:
    return Facts(clips={id_: clip_facts() for id_ in loaded.board.clips}, stills={}, readings=spoken(loaded, a_word))


def planned_lesson(loaded: LoadedStoryboard, slot: int | None = None, a_word: Fraction = A_WORD) -> tuple[Plan, Facts]:
    facts = lesson_facts(loaded, a_word)
    plan, problems = build_plan(loaded, facts, slot=slot)
    assert problems == ()
    return plan, facts
