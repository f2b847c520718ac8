"""Small storyboards and made-up measurements for the tests of the plan."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from segmentkit.facts import ClipFacts, Facts, ReadingFacts, SpokenWord, WordSource
from segmentkit.geometry import Size
from segmentkit.plan.build import build_plan
from segmentkit.plan.model import Plan
from segmentkit.plan.moments import Footage
from segmentkit.plan.speech import speech_requests
from segmentkit.storyboard.load import LoadedStoryboard, loads
from segmentkit.storyboard.people import Clip

A_WORD = Fraction(2, 5)


def clip_facts(
    frames: int = 360, fps: Fraction = Fraction(120), *, times: tuple[Fraction, ...] | None = None
) -> ClipFacts:
    times = times or tuple(k / fps for k in range(frames))
    return ClipFacts(
        path=Path("clip.mp4"), content="0" * 64, size=Size(1920, 1080), times=times,
        duration=times[-1] + 1 / fps, has_sound=True,
    )  # fmt: skip


def footage(spec: dict[str, object] | None = None, facts: ClipFacts | None = None) -> Footage:
    return Footage("viewer", Clip.model_validate({"file": "clip.mp4", **(spec or {})}), facts or clip_facts())


def spoken(loaded: LoadedStoryboard, a_word: Fraction = A_WORD) -> tuple[ReadingFacts, ...]:
    """Every line read at an even pace."""
    return tuple(
        ReadingFacts(
            beat=request.beat, line=request.line, path=None, start=Fraction(0), length=a_word * len(request.words),
            words=tuple(SpokenWord(text=word, start=a_word * index) for index, word in enumerate(request.words)),
            word_source=WordSource.PACE, expected_error=Fraction(1, 2), is_guide=False,
        )
        for request in speech_requests(loaded.board)
    )  # fmt: skip


def planned(text: str, *, a_word: Fraction = A_WORD, slot: int | None = None) -> Plan:
    loaded = loads(text)
    clips = {id_: clip_facts() for id_ in loaded.board.clips}
    plan, problems = build_plan(loaded, Facts(clips=clips, stills={}, readings=spoken(loaded, a_word)), slot=slot)
    assert problems == ()
    return plan


SEGMENT = """
segmentkit: 1
segment: {{title: Test, slot: {slot}, rate: {rate}}}
people:
  maren: {{shown: Maren, adult: yes, release: {{for: [web]}}}}
clips:
  viewer:
    file: v.mp4
    person: maren
    positions: {{address: 0.4s, top: f180, impact: f210}}
    points: {{address: {{heel: [0.4, 0.9], belt: [0.45, 0.5]}}}}
  model: {{file: m.mp4, positions: {{impact: f200}}, points: {{address: {{heel: [0.42, 0.88], belt: [0.45, 0.5]}}}}}}
beats:
  - beat: open
    show: [{{title: {{main: Hello, over: {{clip: viewer, at: address}}}}}}]
  - beat: impact
    say: Stop it at impact now, and if you look hard, there's [gap] daylight behind her hips.
    show:
      - run: {{clip: viewer, from: top, to: impact, speed: 1/8}}
      - freeze: {{clip: viewer, at: impact, hold: 4s..13s}}
    strokes:
      gap: {{double_arrow: [[0.47, 0.52], [0.52, 0.52]], role: fault}}
  - beat: compare
    say: And here is our demonstrator.
    keep: [gap]
    show:
      - split:
          left: {{clip: viewer, at: impact}}
          right: {{clip: model, at: impact}}
          match: [ground, belt]
          hold: 4s..30s
    strokes:
      room: {{ring: {{centre: address.belt, radius: 0.1}}, on: right, at: 1s}}
    cards: [{{key_points: {{lines: [Keep your room]}}}}]
"""


def segment(slot: str = "0:40", rate: str = "25") -> str:
    return SEGMENT.format(slot=slot, rate=rate)
