"""All that is measured of one clip of a swing. Numbers only; `verdict` says what they mean."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.facts import ClipFacts
from segmentkit.geometry import Rect, Size
from segmentkit.intake import picture
from segmentkit.intake.camera import Steadiness, steadiness
from segmentkit.intake.fingerprint import Fingerprint, fingerprint_of
from segmentkit.intake.footage import Footage, read_footage
from segmentkit.intake.framing import Framing, framing_of
from segmentkit.intake.motion import SwingGuess, motion_of, pace_of, swings_of
from segmentkit.intake.strike import Click, clicks
from segmentkit.media.frames import ClipReader
from segmentkit.media.guarded import GuardedClip

SOUND = Fraction(343)
"""Metres a second: sound in air at 20 degrees (ISO 9613-1)."""
_WHOLE = Rect(0, 0, 1, 1)
_THUMB = 360
_TALL = 160
"""Pixels of a swing's height below which arms are too few pixels wide to tell sharp from smeared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A moment that the pictures or the sound propose.

    Attributes:
        position: address, top or impact.
        frame: of the clip.
        second: from the first frame.
        trust: good, fair or weak.
        why: what it rests on, for a person.
        chosen: whether a person has chosen it; then it is no proposal.
    """

    position: str
    frame: int
    second: Fraction
    trust: str
    why: str
    chosen: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What was measured of a clip. Shares are 0 to 1; None where a measure could not be taken.

    Attributes:
        size, frames, duration: as in `ClipFacts`.
        rate: mean frames a second of the file; `slowest` the longest step around the swing, as a rate.
        capture: true frames a second where a phone or a person has said so.
        pace: how many times slower than real time the file runs: by `capture`, else as the motion looks.
        steady: how the camera stood.
        swings: swings in order; `chosen` the index of the one measured; None without one.
        framing: of that swing.
        edges: width of sharp edges at address, of the picture's height.
        smear: edges at speed against edges at rest.
        light: of the player.
        flicker: wavering of the light.
        blocks: block borders against what lies between.
        bars: black bars.
        lettering: where letters seem to be laid over the picture.
        clicks: heard, loudest first; None without sound.
        proposals: address, top, impact.
        fingerprint: for finding the same pictures again.
        thumbs: JPEG pictures of the proposals, by position.
    """

    size: Size
    frames: int
    duration: Fraction
    rate: float
    slowest: float
    capture: float | None
    pace: float
    steady: Steadiness
    swings: tuple[SwingGuess, ...]
    chosen: int | None
    framing: Framing | None
    edges: float | None
    smear: float | None
    light: picture.Light
    flicker: float
    blocks: float
    bars: float
    lettering: Rect | None
    clicks: tuple[Click, ...] | None
    proposals: tuple[Proposal, ...]
    fingerprint: Fingerprint
    thumbs: dict[str, bytes]

    @property
    def swing(self) -> SwingGuess | None:
        """The swing that was measured."""
        return None if self.chosen is None else self.swings[self.chosen]

    @property
    def true_rate(self) -> float:
        """Frames a second of real time, as far as is known."""
        return self.capture if self.capture is not None else self.rate * self.pace


def survey(
    clip: GuardedClip,
    *,
    captured: Fraction | None = None,
    swing: int | None = None,
    distance: float = 4.5,
    least_rate: float = 59.0,
) -> Survey:
    """Measures a clip of a swing.

    Args:
        clip: made safe.
        captured: real capture rate that a person has stated.
        swing: the swing that a person has chosen, counted from 1.
        distance: metres from the player to the camera, for the way of the sound.
        least_rate: true frames a second below which no frame can be trusted to show the strike.
    """
    facts = clip.facts
    footage = read_footage(facts)
    footage = replace(footage, grain=max(footage.grain, _coding_noise(clip.header.quantiser)))
    steady = steadiness(footage)
    rate = float(facts.mean_rate)
    capture = captured or clip.header.capture_rate
    if capture is not None:
        pace = max(1.0, float(capture) / rate)
        swings = swings_of(motion_of(footage, steady, pace), pace)
    else:
        pace, swings = pace_of(footage, steady)
    chosen = _choose(swings, swing)
    near, near_steady = footage, steady
    if chosen is not None and len(footage.frames) < facts.frames:
        near, near_steady, closer = _closer(facts, footage, swings[chosen], pace)
        swings = (*swings[:chosen], closer, *swings[chosen + 1 :])
    framing = framing_of(near, near_steady, swings[chosen]) if chosen is not None else None
    heard = clicks(facts.sound) if facts.sound is not None else None
    proposals = _proposals(facts, swings[chosen], heard, pace, distance) if chosen is not None else ()
    if rate * (pace if capture is not None else 1.0) < least_rate:
        proposals = tuple(_too_far_apart(proposal) for proposal in proposals)
    area = framing.area if framing is not None else _WHOLE
    with ClipReader(facts) as reader:
        look = _Looks(reader, facts)
        first = _frame_at(facts, swings[chosen].start) if chosen is not None else 0
        rest = look.luma(first)
        edges = picture.edge_width(rest, area)
        tall = area.height * facts.size.height >= _TALL
        smear = _smear(look, facts, swings[chosen], area, edges) if chosen is not None and edges and tall else None
        spread = np.unique(np.linspace(0, facts.frames - 1, 7).round().astype(int))
        still = [look.luma(int(k)) for k in spread]
        lettering = picture.lettering(still) if len(still) >= 5 else None
        thumbs = {p.position: look.thumb(p.frame) for p in proposals} or {"picture": look.thumb(facts.frames // 2)}
    return Survey(
        size=facts.size, frames=facts.frames, duration=facts.duration, rate=rate,
        slowest=_slowest(facts, swings[chosen] if chosen is not None else None),
        capture=None if capture is None else float(capture), pace=pace, steady=steady, swings=swings, chosen=chosen,
        framing=framing, edges=edges, smear=smear, light=picture.light_of(rest, area),
        flicker=picture.flicker(footage), blocks=picture.blocks(rest), bars=picture.bars(footage),
        lettering=lettering, clicks=heard, proposals=proposals, fingerprint=fingerprint_of(footage, steady),
        thumbs=thumbs,
    )  # fmt: skip


def _closer(
    facts: ClipFacts, coarse: Footage, swing: SwingGuess, pace: float
) -> tuple[Footage, Steadiness, SwingGuess]:
    """Looks at every frame around a swing of a clip that was too long to be looked at frame by frame."""
    low, high = swing.start - 0.6 * pace, swing.end + 0.4 * pace
    wanted = [frame for frame, time in enumerate(facts.times) if low <= time <= high]
    fine = replace(read_footage(facts, wanted), still=coarse.still, grain=coarse.grain)
    steady = steadiness(fine)
    found = swings_of(motion_of(fine, steady, pace), pace)
    nearest = min(found, key=lambda guess: abs(guess.fastest - swing.fastest), default=swing)
    return fine, steady, nearest if abs(nearest.fastest - swing.fastest) < 0.3 * pace else swing


def _coding_noise(quantiser: float | None) -> float:
    """Grain that coding may feign, in steps of luma: a share of the quantiser's step, 0.625 at 0, doubled each six.

    The step is that of ITU-T H.264, 8.5.12; the share was set on clips coded at known quantisers.
    """
    return 0.0 if quantiser is None else 0.08 * 0.625 * 2 ** (quantiser / 6)


class _Looks:
    """Pictures of full size, each in memory of its own."""

    def __init__(self, reader: ClipReader, facts: ClipFacts) -> None:
        self._reader, self._facts = reader, facts

    def luma(self, frame: int) -> NDArray[np.uint8]:
        return self._reader.planes(min(max(frame, 0), self._facts.frames - 1)).y.copy()

    def thumb(self, frame: int) -> bytes:
        """A small JPEG without any metadata."""
        from segmentkit.media.stills import planes_to_rgb  # noqa: PLC0415

        rgb = planes_to_rgb(self._reader.planes(min(max(frame, 0), self._facts.frames - 1)))
        return jpeg(rgb)


def jpeg(rgb: NDArray[np.uint8]) -> bytes:
    """A small JPEG of a picture: pixels alone, no metadata; uint8, shape (height, width, 3), RGB."""
    scale = _THUMB / max(rgb.shape[:2])
    size = (max(2, round(rgb.shape[1] * scale)), max(2, round(rgb.shape[0] * scale)))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".jpg", np.ascontiguousarray(small[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, 82])
    return data.tobytes() if done else b""


def _choose(swings: tuple[SwingGuess, ...], wanted: int | None) -> int | None:
    """The swing a person has chosen, else the last one: practice swings come first."""
    if not swings:
        return None
    return wanted - 1 if wanted is not None and 1 <= wanted <= len(swings) else len(swings) - 1


def _frame_at(facts: ClipFacts, second: float) -> int:
    times = [float(time) for time in facts.times]
    return int(np.clip(np.searchsorted(times, second + 1e-6) - 1, 0, facts.frames - 1))


def _slowest(facts: ClipFacts, swing: SwingGuess | None) -> float:
    """The longest step between frames on the way down and through, as a rate.

    Stamps that tremble around a steady rate are no gaps: the usual step counts unless one is nearly twice as long,
    which is a picture left out.
    """
    times = np.array([float(time) for time in facts.times])
    if len(times) < 2:
        return 0.0
    steps = np.diff(times)
    if swing is not None:
        first = swing.top if swing.top is not None else swing.start
        near = (times[:-1] >= first) & (times[:-1] <= swing.fastest + 0.15)
        steps = steps[near] if near.any() else steps
    usual = float(np.median(steps))
    return float(1 / (usual if steps.max() < 1.8 * usual else steps.max()))


def _smear(look: _Looks, facts: ClipFacts, swing: SwingGuess, area: Rect, edges: float) -> float | None:
    """The median over pictures around the fastest moment."""
    middle = _frame_at(facts, swing.fastest)
    step = max(1, round(float(facts.mean_rate) / 60))
    found = []
    for frame in (middle - 2 * step, middle - step, middle):
        if step <= frame < facts.frames - step:
            value = picture.smear(look.luma(frame - step), look.luma(frame), look.luma(frame + step), area, edges)
            if value is not None:
                found.append(value)
    return sorted(found)[len(found) // 2] if found else None


# --- proposals -------------------------------------------------------------------------------------------------------


def _proposals(
    facts: ClipFacts, swing: SwingGuess, heard: tuple[Click, ...] | None, pace: float, distance: float
) -> tuple[Proposal, ...]:
    made = [
        _proposal(
            facts, "address", max(0.0, swing.start - 0.1 * pace), "fair" if swing.whole else "weak",
            "the last rest before the motion starts",
        )
    ]  # fmt: skip
    if swing.top is not None:
        trust = "fair" if swing.clear > 0.2 else "weak"
        made.append(_proposal(facts, "top", swing.top, trust, "the valley of the motion before its peak"))
    made.append(_strike(facts, swing, heard, pace, distance))
    return tuple(made)


def _too_far_apart(proposal: Proposal) -> Proposal:
    """A strike between two frames is in neither of them."""
    if proposal.position != "impact":
        return proposal
    return replace(proposal, trust="weak", why=f"{proposal.why}; frames are too far apart to show it")


def _strike(
    facts: ClipFacts, swing: SwingGuess, heard: tuple[Click, ...] | None, pace: float, distance: float
) -> Proposal:
    """The strike: by its sound where a click fits the motion, else by the motion alone."""
    way = distance / float(SOUND)
    for click in heard or ():
        # A slowed file's sound may be slowed, left as it was, or laid on late; only in real time can it be trusted.
        if pace == 1.0 and abs(click.second - way - swing.fastest) < 0.12:
            alone = sum(other.above > click.above - 6 for other in heard or ()) == 1
            trust = "good" if alone and click.above > 20 else "fair"
            why = (
                f"a click at {click.second:.3f} s, {click.above:.0f} dB above the rest; {1000 * way:.0f} ms taken off"
                f" for the sound's way over {distance:g} m; motion is fastest at {swing.fastest:.3f} s"
            )
            return _proposal(facts, "impact", click.second - way, trust, why)
    why = "the fastest motion; no click fits it" if heard is not None else "the fastest motion; there is no sound"
    if pace != 1.0:
        why = "the fastest motion; the sound of a slowed clip is not trusted"
    return _proposal(facts, "impact", swing.fastest, "weak", why)


def _proposal(facts: ClipFacts, position: str, second: float, trust: str, why: str) -> Proposal:
    times = [float(time) for time in facts.times]
    frame = int(np.clip(np.searchsorted(times, second), 1, len(times) - 1)) if len(times) > 1 else 0
    if frame and math.fabs(times[frame - 1] - second) <= math.fabs(times[frame] - second):
        frame -= 1
    return Proposal(position=position, frame=frame, second=facts.times[frame], trust=trust, why=why)
