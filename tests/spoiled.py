"""A small finished programme and ways to spoil it: six seconds, three shots, words, a title, captions.

The first and last shot move, the middle one is frozen on purpose. Pictures and sound are made here and not by the
renderer, so that what is measured does not come from what is judged.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from segmentkit.checks.qc import findings_of, judge
from segmentkit.checks.qc_check import Outcome, Verdict
from segmentkit.checks.qc_text import looks_for
from segmentkit.checks.qc_wanted import Wanted
from segmentkit.deliver.captions_vtt import vtt_captions
from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.facts import TextFacts, WordSource
from segmentkit.geometry import Rect, Size, cover
from segmentkit.media.loudness import bin_power, integrated
from segmentkit.media.screen import screen
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.plan.model import Card, ClipPicture, Pane, Plan, PlannedBeat, Shot, Speech
from segmentkit.screened import Screened
from segmentkit.timebase import Rate, Span
from tests.clips import Coding, Picture, Track, make_clip, steady

SIZE = Size(160, 90)
RATE = Rate(Fraction(25))
FRAMES = 150
CUTS = (0, 50, 100, 150)
LOUDNESS, PEAK = -16.0, -1.0
WORDS = Span(10, 140)
TITLE = Rect(32, 60, 80, 10)
"""Where its ink lies, in pixels."""
LOSSLESS = Coding(options={"preset": "ultrafast", "crf": "1", "g": "25"})

Sound = NDArray[np.float32]


def plan() -> Plan:
    """Two runs with a freeze between them."""
    beat = PlannedBeat(
        id="impact", span=Span(0, FRAMES), least=FRAMES, nominal=FRAMES, most=FRAMES, words_end=WORDS.end, needs=0,
        rigid=True,
    )  # fmt: skip
    shots = []
    for number, (start, end) in enumerate(pairwise(CUTS)):
        frozen = number == 1
        frames = (7,) * (end - start) if frozen else tuple(range(end - start))
        pane = Pane(picture=ClipPicture(clip="swing", frames=frames), placement=cover(SIZE, Rect(0, 0, 160, 90)))
        kind = "freeze" if frozen else "run"
        shots.append(Shot(id=f"impact/{number}", beat="impact", kind=kind, span=Span(start, end), panes=(pane,)))
    words = Speech(
        beat="impact", line=0, speaker="host", shown="Host", text="Stop it there.", span=WORDS, path=Path("words.wav"),
        source_start=Fraction(0), length=Fraction(WORDS.frames, 25), gain_db=0.0, telephone=False, words=(),
        word_source=WordSource.PACE, expected_error=Fraction(0), is_guide=False,
    )  # fmt: skip
    title = Card(
        beat="impact", kind="information", index=0, fields=(("line", "Room"),), span=Span(110, 140), enter_frames=0,
        leave_frames=0,
    )  # fmt: skip
    return Plan(
        title="Keep your room", rate=RATE, size=SIZE, slot=FRAMES, beats=(beat,), shots=tuple(shots), strokes=(),
        cards=(title,), speech=(words,), natural=(), music=(),
    )  # fmt: skip


def texts(**changes: object) -> tuple[TextFacts, ...]:
    """The one text; `changes` spoil it."""
    text = TextFacts(beat="impact", kind="information", index=0, text="Room", area=TITLE, cap_height=4.5, contrast=12.0)
    return (replace(text, **changes),)  # type: ignore[arg-type]


def delivery(**changes: object) -> Delivery:
    """H.264 and AAC at -16 LUFS; `changes` ask for something else."""
    made = Delivery(
        name="web", scope="web", loudness=LOUDNESS, true_peak=PEAK, picture=PictureCoding(), sound=SoundCoding()
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def _texture(seed: int) -> NDArray[np.float64]:
    """A soft random picture of 60 to 170, shape (90, 320, 3)."""
    draw = np.random.default_rng(seed)
    small = draw.uniform(60, 170, (10, 36, 1)) + draw.uniform(-12, 12, (10, 36, 3))
    rows, columns = np.linspace(0, 9, 90), np.linspace(0, 35, 320)
    tall = (
        small[rows.astype(int)] * (1 - rows % 1)[:, None, None]
        + small[np.minimum(rows.astype(int) + 1, 9)] * (rows % 1)[:, None, None]
    )
    left, right = tall[:, columns.astype(int)], tall[:, np.minimum(columns.astype(int) + 1, 35)]
    part = (columns % 1)[None, :, None]
    return np.asarray(left * (1 - part) + right * part)


_SCENES = [_texture(seed) for seed in (3, 5, 11)]


def picture(k: int) -> Picture:
    """Frame k as it should be: uint8, shape (90, 160, 3)."""
    shot = sum(k >= cut for cut in CUTS[1:])
    shot = min(shot, 2)
    shift = 7 if shot == 1 else k - CUTS[shot]
    made = _SCENES[shot][:, shift : shift + 160].clip(0, 255).astype(np.uint8).copy()
    if 110 <= k < 140:
        x, y, right, bottom = (int(edge) for edge in TITLE.edges)
        made[y - 3 : bottom + 3, x - 4 : right + 4] = 28
        for bar in range(x, right, 6):
            made[y:bottom, bar : bar + 3] = 225
    return made


def sound(seconds: float = FRAMES / 25, *, seed: int = 2) -> Sound:
    """Something like words: bursts of noise and tone, a little different on either side, at -16 LUFS."""
    return _sound(seconds, seed).copy()


@cache
def _sound(seconds: float, seed: int) -> Sound:
    draw = np.random.default_rng(seed)
    count = round(seconds * 48_000)
    tones = np.zeros(count)
    at = round(WORDS.start / 25 * 48_000)
    while at < count - 31_200:
        length = int(draw.integers(5_000, 11_000))
        moment = np.arange(length) / 48_000
        burst = sum(
            draw.uniform(0.2, 1) * np.sin(2 * np.pi * draw.uniform(120, 2400) * moment + draw.uniform(0, 6))
            for _ in range(6)
        )
        tones[at : at + length] += burst * np.hanning(length) * draw.uniform(0.5, 1)
        at += length + int(draw.integers(800, 5_000))
    side = np.roll(tones, 40) * 0.4 + draw.normal(0, 0.01, count)
    room = draw.normal(0, 2e-4, (count, 2))
    made = np.stack([tones + side, tones - side], axis=1).astype(np.float32) * np.float32(0.1) + room.astype(np.float32)
    return at_loudness(made, LOUDNESS)


def at_loudness(samples: Sound, level: float) -> Sound:
    """The sound brought to a loudness."""
    return np.asarray(samples * 10 ** ((level - integrated(bin_power(samples))) / 20), np.float32)


_GOOD: dict[str, bytes] = {}


def write(
    path: Path,
    *,
    pictures: Callable[[int], Picture] = picture,
    heard: Sound | None = None,
    frames: int = FRAMES,
    sound_codec: str = "aac",
    start: Fraction = Fraction(0),
    coding: Coding = LOSSLESS,
    tags: dict[str, str] | None = None,
    silent: bool = False,
    layout: str = "stereo",
) -> Path:
    """Writes the programme, spoiled as the arguments say; what is as it should be is coded once."""
    asked = (pictures, heard is None, frames, sound_codec, start, coding, tags, silent, layout)
    as_it_should_be = asked == (picture, True, FRAMES, "aac", 0, LOSSLESS, None, False, "stereo")
    if as_it_should_be and path.suffix in _GOOD:
        path.write_bytes(_GOOD[path.suffix])
        return path
    samples = sound(frames / 25) if heard is None else heard
    tracks = [] if silent else [Track(samples=samples, codec=sound_codec, start=start, layout=layout)]
    container = {"movflags": "use_metadata_tags"} if tags else {}
    make_clip(
        path, steady(25, Fraction(frames, 25)), size=SIZE, coding=coding, tracks=tracks, picture=pictures, tags=tags,
        container=container,
    )  # fmt: skip
    if as_it_should_be:
        _GOOD[path.suffix] = path.read_bytes()
    return path


def cues(spans: Sequence[Span] = (Span(10, 70), Span(72, 138))) -> tuple[Caption, ...]:
    place = CaptionPlace(top=False, edge=90, centre=50, size=80, usual=True)
    return tuple(Caption(span=span, lines=("Stop it there.",), speaker="", place=place) for span in spans)


def write_captions(movie: Path, spans: Sequence[Span] = (Span(10, 70), Span(72, 138))) -> Path:
    """Captions beside a movie."""
    target = movie.with_name(f"{movie.stem}.web.en.vtt")
    target.write_text(vtt_captions(cues(spans), RATE), "utf-8")
    return target


def wanted(**changes: object) -> Wanted:
    """All that is asked of the programme."""
    made = Wanted(plan=plan(), delivery=delivery(), texts=texts(), captions=None)
    return replace(made, **changes)  # type: ignore[arg-type]


def measured(path: Path, **how: object) -> Screened:
    """The file measured against the sound that was planned, with a look at its text."""
    looks = looks_for(plan(), texts(), 0)
    return screen(path, reference=sound(), looks=looks, threads=1, **how)  # type: ignore[arg-type]


def verdicts(path: Path, asked: Wanted | None = None, **how: object) -> dict[str, Verdict]:
    """Every check's verdict on a file, by id."""
    return {one.check.id: one for one in judge(measured(path, **how), asked or wanted())}


def failing(found: dict[str, Verdict]) -> set[str]:
    """Ids of the checks that fail or warn."""
    return {id_ for id_, one in found.items() if one.outcome in {Outcome.FAIL, Outcome.WARN}}


def told(found: dict[str, Verdict]) -> str:
    """All findings as one text, for a failing assertion."""
    return "\n".join(f"{one.id}: {one.where}: {one.what}" for one in findings_of(tuple(found.values())))
