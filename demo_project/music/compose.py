"""Writes the demo's music: `bed.m4a`, 90 s that run into themselves, and `sting.m4a`, a short close.

    python demo_project/music/compose.py

Everything is made here from sines: a soft pad, plucked notes, a bass, and a room of decaying noise. The piece lies on
a ring of 90 s, tails and room included, so its end is its beginning; the first two seconds follow once more at the end
of the file, because a bed crosses them when it repeats. Chords of this kind are common property; there is no melody.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

HOME = Path(__file__).resolve().parent
sys.path.insert(0, str(HOME.parent.parent))

from segmentkit.media import ffmpeg, safe  # noqa: E402
from segmentkit.media.loudness import measure  # noqa: E402
from segmentkit.media.sound import write_wav  # noqa: E402
from segmentkit.timebase import SAMPLE_RATE  # noqa: E402

Sound = NDArray[np.float64]

BEAT = 0.75  # seconds; 80 beats a minute
BARS = 30
RING = int(BARS * 4 * BEAT * SAMPLE_RATE)
OVERLAP = 2 * SAMPLE_RATE

# Two bars each: bass note, then the pad's notes, as semitones from the A of 440 Hz.
CHORDS = {
    "G": (-26, (-14, -10, -7, -3, 0)),
    "D": (-27, (-15, -12, -7, -3, 2)),
    "E": (-29, (-14, -10, -7, -5, 2)),
    "C": (-33, (-17, -14, -10, -7, -3)),
    "A": (-24, (-12, -9, -5, -2, 2)),
    "S": (-31, (-14, -12, -9, -5, 0)),
}
FORM = "GDEC" + "ASGE" + "GDEC" + "CSG"
SCALE = (-2, 0, 2, 5, 7, 10, 12, 14, 17)  # G A B D E of G, the pluck's choice, from the G above


def hertz(semitones: float) -> float:
    """Frequency of a note, counted from the A of 440 Hz."""
    return float(440.0 * 2 ** (semitones / 12))


def lay(ring: Sound, part: Sound, at: float, pan: float) -> None:
    """Adds a mono part to a stereo ring at a moment in seconds; what runs over the end goes on at the beginning."""
    place = (int(at * SAMPLE_RATE) + np.arange(len(part))) % len(ring)
    angle = (pan + 1) * np.pi / 4
    for channel, share in enumerate((np.cos(angle), np.sin(angle))):
        np.add.at(ring[:, channel], place, part * share)


def pad(note: float, seconds: float) -> Sound:
    """A soft tone that swells and leaves: five harmonics, two of each a few hundredths of a semitone apart."""
    time = np.arange(int((seconds + 2.0) * SAMPLE_RATE)) / SAMPLE_RATE
    tone = np.zeros(len(time))
    for harmonic in range(1, 6):
        for cents in (-4, 5):
            frequency = hertz(note + cents / 100) * harmonic
            tone += np.sin(2 * np.pi * frequency * time + harmonic * 1.3 + cents) / harmonic**2.1
    swell = np.clip(time / 1.4, 0, 1) * np.clip((seconds + 2.0 - time) / 2.0, 0, 1)
    return tone * np.sin(swell * np.pi / 2) ** 2 * (1 + 0.06 * np.sin(2 * np.pi * 0.31 * time + note))


def pluck(note: float, force: float) -> Sound:
    """A plucked string: harmonics that die the faster the higher they are, and the touch of a fingertip."""
    time = np.arange(int(2.6 * SAMPLE_RATE)) / SAMPLE_RATE
    tone = np.zeros(len(time))
    for harmonic in range(1, 9):
        stiff = harmonic * (1 + 0.00035 * harmonic**2)
        tone += np.sin(2 * np.pi * hertz(note) * stiff * time) * np.exp(-time * (1.6 + 1.5 * harmonic)) / harmonic**0.95
    touch = np.sin(2 * np.pi * hertz(note) * 0.5 * time) * np.exp(-time * 60)
    return force * (tone + 0.2 * touch) * np.clip(time / 0.003, 0, 1) * np.clip((2.6 - time) / 0.3, 0, 1)


def bass(note: float, seconds: float) -> Sound:
    """A round low note."""
    time = np.arange(int((seconds + 0.5) * SAMPLE_RATE)) / SAMPLE_RATE
    tone = np.sin(2 * np.pi * hertz(note) * time) + 0.25 * np.sin(4 * np.pi * hertz(note) * time)
    return tone * np.clip(time / 0.02, 0, 1) * np.exp(-time * 0.9) * np.clip((seconds + 0.5 - time) / 0.5, 0, 1)


def room(ring: Sound, seed: int) -> Sound:
    """The ring as heard in a room: noise that decays by 60 dB in 2.2 s, darker as it goes, around the ring."""
    random = np.random.default_rng(seed)
    time = np.arange(int(2.2 * SAMPLE_RATE)) / SAMPLE_RATE
    wet = np.zeros_like(ring)
    frequencies = np.fft.rfftfreq(len(ring), 1 / SAMPLE_RATE)
    tone = 1 / (1 + (frequencies / 2600) ** 2) * np.clip(frequencies / 220, 0, 1)
    for channel in range(2):
        noise = np.zeros(len(ring))
        noise[: len(time)] = random.standard_normal(len(time)) * 10 ** (-3 * time / 2.2) * np.clip(time / 0.012, 0, 1)
        noise /= np.sqrt(np.square(noise).sum())
        wet[:, channel] = np.fft.irfft(np.fft.rfft(ring[:, channel]) * np.fft.rfft(noise) * tone, len(ring))
    return wet


def compose_bed() -> Sound:
    """The whole ring, shape (RING, 2)."""
    random = np.random.default_rng(20)
    dry, plucked = np.zeros((RING, 2)), np.zeros((RING, 2))
    for index, name in enumerate(FORM):
        root, notes = CHORDS[name]
        start = index * 8 * BEAT
        for k, note in enumerate(notes):
            lay(dry, (0.04 if 4 <= index < 8 else 0.03) * pad(note, 8 * BEAT), start, (-0.7, 0.5, -0.2, 0.7, 0.1)[k])
        for beat, length in ((0, 3.5), (3.5, 0.5), (4, 3.0)):
            lay(dry, 0.085 * bass(root, length * BEAT), start + beat * BEAT, 0.0)
        if index in {0, 8}:  # the opening figure, and its return
            for k, note in enumerate((-14, -7, -2, 2, 5, 10)):
                lay(plucked, pluck(note, 0.10 + 0.008 * k), start + k * BEAT / 2, -0.5 + 0.2 * k)
            steps = range(8, 16)
        else:
            steps = range(16)
        tones = [note for note in SCALE if name != "D" or note % 12 != 10]  # no G against an F sharp in the bass
        at = int(random.integers(2, 6))
        for step in steps:
            if random.random() < (0.62 if step % 4 == 0 else 0.36 if step % 2 == 0 else 0.22):
                at = int(np.clip(at + random.choice([-2, -1, 1, 2]), 0, len(tones) - 1))
                force = 0.09 * (1.15 if step % 4 == 0 else 0.8) * (0.85 + 0.3 * random.random())
                late = 0.012 * random.random()
                lay(plucked, pluck(tones[at], force), start + step * BEAT / 2 + late, random.uniform(-0.6, 0.6))
    return dry + plucked + 0.45 * room(dry, 1) + 0.9 * room(plucked, 2)


def compose_sting() -> Sound:
    """Five seconds: a rising figure that comes to rest, shape (n, 2)."""
    ring = np.zeros((9 * SAMPLE_RATE, 2))
    for k, note in enumerate((-14, -7, -2, 2, 5)):
        lay(ring, pluck(note, 0.12 + 0.01 * k), k * BEAT / 4, -0.4 + 0.2 * k)
    for k, note in enumerate((-14, -10, -7, -2, 5)):
        lay(ring, pluck(note, 0.10), 6 * BEAT / 4 + 0.018 * k, 0.4 - 0.2 * k)
        lay(ring, 0.03 * pad(note, 1.2), 5 * BEAT / 4, 0.3 - 0.15 * k)
    lay(ring, 0.16 * bass(-26, 2.0), 6 * BEAT / 4, 0.0)
    whole = (ring + 0.9 * room(ring, 3))[: 5 * SAMPLE_RATE]
    whole[-SAMPLE_RATE:] *= np.linspace(1, 0, SAMPLE_RATE)[:, None] ** 2
    return whole


def save(sound: Sound, path: Path, bitrate: str) -> None:
    """Brings the sound to -20 LUFS and codes it."""
    loud = measure(sound.astype(np.float32))
    level = (sound * 10 ** ((-20 - loud.integrated) / 20)).astype(np.float32)
    with tempfile.TemporaryDirectory() as folder, safe.writing(path) as partial:
        wav = Path(folder) / "sound.wav"
        write_wav(wav, level)
        ffmpeg.run([
            "-i", ffmpeg.named(wav), "-c:a", "aac", "-b:a", bitrate, "-map_metadata", "-1", "-fflags", "+bitexact",
            "-flags:a", "+bitexact", ffmpeg.named(partial),
        ])  # fmt: skip
    found = measure(level)
    print(f"{path.name}: {len(level) / SAMPLE_RATE:.1f} s, {found.integrated:.1f} LUFS, {found.true_peak:.1f} dBTP")


def main() -> None:
    """Writes both files beside this one."""
    ring = compose_bed()
    save(np.concatenate([ring, ring[:OVERLAP]]), HOME / "bed.m4a", "72k")
    save(compose_sting(), HOME / "sting.m4a", "64k")


if __name__ == "__main__":
    main()
