"""Builds plans and what the checks look at, from a storyboard that has nothing wrong with it.

`clean()` gives that storyboard as plain data; a test changes the one thing it is about. It is written out as JSON,
which is YAML, and read by the real loader; the plan is made by the real planner from made-up measurements.
"""

from __future__ import annotations

import copy
import datetime
import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from segmentkit.checks.context import CheckContext
from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.facts import (
    ClipFacts,
    Facts,
    ReadingFacts,
    SceneFacts,
    SpokenWord,
    StillFacts,
    TextFacts,
    TrackFacts,
    WordSource,
)
from segmentkit.geometry import Size
from segmentkit.plan.build import build_plan
from segmentkit.plan.model import Plan
from segmentkit.plan.speech import speech_requests
from segmentkit.storyboard.load import LoadedStoryboard, loads

TODAY = datetime.date(2026, 11, 25)
WORD = Fraction(2, 5)
"""Seconds a word: 150 words a minute."""

Board = dict[str, Any]
FULL_HD = Size(1920, 1080)


def web(scope: str = "web", name: str = "web") -> Delivery:
    return Delivery(
        name=name,
        scope=scope,
        loudness=-14.0,
        true_peak=-1.0,
        picture=PictureCoding(preset="medium", quality=20),
        sound=SoundCoding(bit_rate=192_000),
    )


_RELEASE = {"for": ["web", "broadcast"], "until": "2028-06-30", "by": "herself"}
_POSITIONS = {"address": "0.4s", "top": "f180", "impact": "f210", "finish": "f330"}
_POINTS = {"address": {"heel": [0.4, 0.9], "belt": [0.45, 0.5]}}
_CLEAN: Board = {
    "segmentkit": 1,
    "segment": {
        "title": "Keep your room",
        "slot": "1:10",
        "rate": 25,
        "size": "1920x1080",
        "question": "Why does my strike fly thin to one side?",
    },
    "people": {
        "maren": {
            "shown": "Maren",
            "place": "Lindholm Bay",
            "handed": "right",
            "club": "7-iron",
            "handicap": 22,
            "adult": "yes",
            "release": _RELEASE,
        },
        "ines": {"shown": "Ines", "handed": "right", "club": "7-iron", "adult": "yes", "release": _RELEASE},
    },
    "clips": {
        "viewer": {
            "file": "v.mp4",
            "person": "maren",
            "view": "down-the-line",
            "positions": {**_POSITIONS},
            "points": copy.deepcopy(_POINTS),
        },
        "model": {
            "file": "m.mp4",
            "person": "ines",
            "view": "down-the-line",
            "positions": _POSITIONS,
            "points": copy.deepcopy(_POINTS),
        },
    },
    "speakers": {"presenter": {"shown": "Presenter"}},
    "voice": {"takes": "takes"},
    "beats": [
        {"beat": "title", "show": [{"title": {"main": "Swing Clinic", "sub": "Keep your room", "hold": "4s..5s"}}]},
        {
            "beat": "intro",
            "say": "Maren asks why her strike is thin and flies to one side. There is plenty to like here.",
            "show": [
                {"run": {"clip": "viewer", "speed": 1}},
                {"freeze": {"clip": "viewer", "at": "finish", "hold": "4s..9s"}},
            ],
            "cards": [{"lower_third": {"person": "maren", "at": "1.5s", "hold": "5s"}}],
        },
        {
            "beat": "address",
            "say": "At address she is set up well. I will put a [hip_line] line down the back of her hips.",
            "show": [{"freeze": {"clip": "viewer", "at": "address", "hold": "8s..12s"}}],
            "strokes": {"hip_line": {"line": [[0.45, 0.2], [0.45, 0.8]]}},
        },
        {
            "beat": "impact",
            "say": "Now the downswing. Stop it at impact, and there is [gap] daylight between her hips and that line.",
            "show": [
                {"run": {"clip": "viewer", "from": "top", "to": "impact", "speed": "1/8"}},
                {"freeze": {"clip": "viewer", "at": "impact", "hold": "6s..13s"}},
            ],
            "keep": ["hip_line"],
            "strokes": {"gap": {"double_arrow": [[0.45, 0.52], [0.5, 0.52]], "role": "fault"}},
        },
        {
            "beat": "compare",
            "say": "Here is our demonstrator. At impact her hips are still on the line.",
            "show": [
                {
                    "split": {
                        "left": {"clip": "viewer", "at": "impact"},
                        "right": {"clip": "model", "at": "impact"},
                        "match": ["ground", "belt"],
                        "hold": "6s..12s",
                    }
                }
            ],
            "keep": ["hip_line"],
            "strokes": {
                "room": {"ring": {"centre": "address.belt", "radius": 0.08}, "role": "good", "on": "right", "at": "2s"}
            },
        },
        {
            "beat": "drill",
            "rigid": "yes",
            "say": "Here is the drill. Stand in front of a wall and turn back slowly. Do ten slow ones, once a day.",
            "show": [{"freeze": {"clip": "model", "at": "top", "hold": "12s"}}],
            "cards": [
                {
                    "drill": {
                        "name": "Wall drill",
                        "count": "10 slow turns, once a day",
                        "safety": "No club near the wall",
                        "line": "Stop if anything hurts",
                    }
                }
            ],
        },
        {
            "beat": "close",
            "say": "So keep your room, and your strike will not be thin. The ball flies straight, not to one side.",
            "show": [{"freeze": {"clip": "viewer", "at": "finish", "hold": "7s..12s"}}],
            "cards": [{"key_points": {"lines": ["Same set-up", "Keep your room"]}}],
        },
        {
            "beat": "end",
            "show": [{"end_board": {"main": "Send us your swing", "lines": ["practice.example"], "hold": "4s..8s"}}],
        },
    ],
    "deliver": ["web"],
}


def clean() -> Board:
    """The storyboard without faults, to be changed at will."""
    return copy.deepcopy(_CLEAN)


def beat_of(board: Board, name: str) -> Board:
    """A beat of it by name."""
    return next(beat for beat in board["beats"] if beat["beat"] == name)


def loaded(board: Board) -> LoadedStoryboard:
    return loads(json.dumps(board, indent=1, ensure_ascii=False), "lesson.yaml")


def clip_facts(frames: int = 360, fps: Fraction = Fraction(120), size: Size = FULL_HD) -> ClipFacts:
    return ClipFacts(
        path=Path("clip.mp4"),
        content="0" * 64,
        size=size,
        times=tuple(k / fps for k in range(frames)),
        duration=frames / fps,
        has_sound=True,
    )


def readings(
    storyboard: LoadedStoryboard,
    *,
    word: Fraction = WORD,
    by_beat: dict[str, Fraction] | None = None,
    source: WordSource = WordSource.ALIGNED,
    error: Fraction = Fraction(1, 10),
    recorded: bool = True,
    guide: bool = False,
) -> tuple[ReadingFacts, ...]:
    """Every line read at an even pace: `word` seconds a word, or as `by_beat` says."""
    made = []
    for request in speech_requests(storyboard.board):
        pace = (by_beat or {}).get(request.beat, word)
        made.append(
            ReadingFacts(
                beat=request.beat,
                line=request.line,
                path=Path(f"{request.beat}.wav") if recorded or guide else None,
                start=Fraction(0),
                length=pace * len(request.words),
                words=tuple(SpokenWord(text=text, start=pace * k) for k, text in enumerate(request.words)),
                word_source=source,
                expected_error=error,
                is_guide=guide,
            )
        )
    return tuple(made)


def context(
    board: Board | None = None,
    *,
    clips: dict[str, ClipFacts] | None = None,
    final: bool = False,
    today: datetime.date = TODAY,
    deliveries: tuple[Delivery, ...] = (),
    texts: tuple[TextFacts, ...] = (),
    tracks: dict[str, TrackFacts] | None = None,
    scenes: dict[str, SceneFacts] | None = None,
    change: Callable[[Plan], Plan] = lambda plan: plan,
    **how: Any,
) -> CheckContext:
    """What the checks look at, for a storyboard as data; `how` goes to `readings`, `change` alters the plan."""
    storyboard = loaded(board if board is not None else clean())
    measured = {id_: (clips or {}).get(id_) or clip_facts() for id_ in storyboard.board.clips}
    stills = {
        id_: StillFacts(path=Path(still.file), content="0" * 64, size=Size(1920, 1080))
        for id_, still in storyboard.board.stills.items()
    }
    facts = Facts(
        clips=measured,
        stills=stills,
        readings=readings(storyboard, **how),
        tracks=tracks or {},
        scenes=scenes or {},
    )
    plan, problems = build_plan(storyboard, facts)
    assert problems == ()
    return CheckContext(
        loaded=storyboard,
        plan=change(plan),
        facts=facts,
        deliveries=deliveries or (web(),),
        today=today,
        final=final,
        texts=texts,
    )


def with_strokes(plan: Plan, **changes: dict[str, Any]) -> Plan:
    """The plan with strokes changed by id."""
    return replace(plan, strokes=tuple(replace(s, **changes.get(s.id, {})) for s in plan.strokes))


def with_cards(plan: Plan, kind: str, **changes: Any) -> Plan:
    """The plan with all cards of a kind changed."""
    return replace(plan, cards=tuple(replace(c, **changes) if c.kind == kind else c for c in plan.cards))
