"""Makes the demonstration's season: fourteen submissions, ten of them with trouble, in a folder of its own.

    python3 -m demo_project.season.make FOLDER
    segmentkit batch FOLDER/swing-clinic.csv --today 2028-04-01

All people are invented; their swings are those of the drawn players of `demo_project/clips`, each retimed, so that no
two are copies of one another unless they are meant to be. EXPECTED says what must become of each.
"""

from __future__ import annotations

import math
import shutil
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import cv2
import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import VideoReformatter
from numpy.typing import NDArray

Frame = NDArray[np.uint8]
CLIPS = Path(__file__).resolve().parents[1] / "clips"
HERE = Path(__file__).resolve().parent
WIDE, HIGH = 854, 480
FILMED = 120
FIRST, LAST = 0, 360
EVENTS = {
    "viewer": {"address": 72, "top": 176, "impact": 207, "finish": 284},
    "model": {"address": 74, "top": 176, "impact": 206, "finish": 281},
}
"""Frames of the drawn swings, from their truth files."""
TABLE = "swing-clinic.csv"
TODAY = "2028-04-01"


@dataclass(frozen=True, kw_only=True)
class Sender:
    """One row: who sent what, and what is wrong with it.

    Attributes:
        id: of the item and its submission.
        shown: the name; `person` the id among people.
        adult, guardian, release, extra: lines of the record.
        by: whose drawn swing it is.
        pace: how far the swing is retimed, in frames at 120 a second; its sign decides where.
        bend: what is done to the pictures.
        fps: of the file.
        write: how the file is written.
        expected: done, or the name of the reason.
    """

    id: str
    shown: str
    expected: str
    adult: bool = True
    guardian: str = ""
    release: str = "[broadcast, web, short]"
    extra: str = ""
    by: str = "viewer"
    pace: float = 0.0
    bend: str = ""
    fps: int = 60
    write: str = "plain"

    @property
    def person(self) -> str:
        """The id among people."""
        return self.shown.split()[0].lower()


SENDERS = (
    Sender(id="c01", shown="Anna Ek", expected="done", pace=6),
    Sender(
        id="c02", shown="Rowan", expected="done", adult=False, guardian="Kim Ask", release="[broadcast, web]", pace=-7
    ),
    Sender(id="c03", shown="Ravi", expected="rate-low", pace=9, fps=30),
    Sender(id="c04", shown="Dagny", expected="withdrawn", pace=-10),
    Sender(id="c05", shown="Timo", expected="minor-unsigned", adult=False, pace=12),
    Sender(id="c06", shown="Ines", expected="unreadable", pace=-13, write="cut off"),
    Sender(id="c07", shown="Berit", expected="same-pictures", pace=6, bend="smaller"),
    Sender(id="c08", shown="Mads", expected="side-differs", pace=15, bend="mirrored"),
    Sender(id="c09", shown="Lena", expected="done", by="model", pace=-9, bend="portrait", fps=80, write="varying"),
    Sender(id="c10", shown="Greta", expected="other-name", pace=-16),
    Sender(id="c11", shown="Hugo", expected="other-name", pace=18),
    Sender(id="c12", shown="Paul", expected="release-ended", pace=-19, extra="until: 2028-01-31"),
    Sender(id="c13", shown="Sofie", expected="pain", pace=21),
    Sender(id="c14", shown="Noor", expected="done", by="model", pace=11),
)  # fmt: skip
EXPECTED = {sender.id: sender.expected for sender in SENDERS}
HELD = {"c02": ("profiles/phone.yaml",)}
"""Profiles that are not made, of items that are done: a minor's guardian has not signed for the short."""


@cache
def drawn(by: str) -> tuple[Frame, ...]:
    """A drawn swing from the front: uint8, shape (480, 854, 3), RGB, 120 a second."""
    scaler = VideoReformatter()  # one for all: a frame's own would be set up anew for each
    with av.open(str(CLIPS / f"{by}-face-on.mp4")) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        return tuple(
            scaler.reformat(frame, WIDE, HIGH, "rgb24", interpolation="AREA").to_ndarray()
            for frame in container.decode(stream)
        )


def source_frames(sender: Sender) -> list[int]:
    """Which drawn frame each frame of the file shows: a person never swings twice in step, so the time is bent."""
    count = (LAST - FIRST) * sender.fps // FILMED
    out = []
    for k in range(count):
        part = k / (count - 1)
        bent = FIRST + part * (LAST - 1 - FIRST) + sender.pace * math.sin(2 * math.pi * part)
        out.append(round(min(LAST - 1, max(FIRST, bent))))
    return out


def moments(sender: Sender) -> dict[str, Fraction]:
    """Seconds of the swing's positions in the file."""
    frames, times = source_frames(sender), _times(sender)
    return {
        name: times[min(range(len(frames)), key=lambda k: abs(frames[k] - wanted))]
        for name, wanted in EVENTS[sender.by].items()
    }


def _times(sender: Sender) -> list[Fraction]:
    """Seconds of each frame; phones that run short of light leave frames out now and then."""
    count = len(source_frames(sender))
    if sender.write == "varying":
        return [Fraction(k, sender.fps) + Fraction((k * 7) % 4, 1000) for k in range(count)]
    return [Fraction(k, sender.fps) for k in range(count)]


def _upright(frame: Frame) -> Frame:
    """The middle of a picture with more sky, as a phone held upright sees it."""
    left, wide, more = 157, 540, 100
    sky = drawn("model")[0][:more, left : left + wide]
    return np.concatenate([sky[::-1], frame[:, left : left + wide]])


_BENDS: dict[str, Callable[[Frame], Frame]] = {
    "": lambda frame: frame,
    "mirrored": lambda frame: np.ascontiguousarray(frame[:, ::-1]),
    "smaller": lambda frame: cv2.resize(frame, (860, 484), interpolation=cv2.INTER_AREA),
    "portrait": _upright,
}


def film(path: Path, sender: Sender) -> None:
    """Writes a sender's clip."""
    frames = [_BENDS[sender.bend](drawn(sender.by)[k]) for k in source_frames(sender)]
    write_clip(path, frames, _times(sender), crf=27 if sender.bend == "smaller" else 21)
    if sender.write == "cut off":  # the part that lists the pictures stands at the end
        whole = path.read_bytes()
        path.write_bytes(whole[: len(whole) // 3])


def write_clip(path: Path, frames: Sequence[Frame], times: Iterable[Fraction], crf: int = 21) -> None:
    """Writes pictures as H.264, each at its own time."""
    path.parent.mkdir(parents=True, exist_ok=True)
    height, width = frames[0].shape[:2]
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=60)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 6000)
        stream.options = {"preset": "superfast", "crf": str(crf), "threads": "2"}
        for picture, time in zip(frames, times, strict=True):
            frame = VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(time * 6000), Fraction(1, 6000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def record(folder: Path, sender: Sender) -> None:
    """Writes the intake record: who, the release, the clip with the positions that a person has named."""
    lines = [f"shown: {sender.shown}", "handed: right", f"adult: {'yes' if sender.adult else 'no'}"]
    if sender.guardian:
        lines.append(f"guardian: {sender.guardian}")
    if sender.expected == "pain":
        lines.append("pain: yes")
    until = f", {sender.extra}" if sender.extra else ""
    lines.append(f"release: {{for: {sender.release}, by: {sender.guardian or sender.shown}{until}}}")
    positions = ", ".join(f"{name}: {float(second):.4f}s" for name, second in moments(sender).items())
    (folder / "submissions.yaml").write_text(
        f"intake: 1\npeople:\n  {sender.person}:\n    " + "\n    ".join(lines) + "\nsubmissions:\n"
        f"  {sender.id}:\n    person: {sender.person}\n    received: 2028-02-{int(sender.id[1:]):02}\n"
        f"    face-on: {{file: sent/{sender.id}.mp4, positions: {{{positions}}}}}\n",
        "utf-8",
    )
    if sender.expected == "withdrawn":
        (folder / "withdrawn.yaml").write_text(f"withdrawn: {{{sender.person}: 2028-03-20}}\n", "utf-8")


def table(senders: Sequence[Sender] = SENDERS) -> str:
    """The season as a table; the submissions of Greta and Hugo have changed places."""
    lines = ["id,submission,name,template,fill,deliver,air,received,fault,model"]
    slipped = {"c10": "c11", "c11": "c10"}
    for number, sender in enumerate(senders):
        fault = ("bent_lead_arm", "early_bend", "sway")[number % 3]
        model = ("ola", "ines")[number % 2]
        fill = "upright.yaml" if sender.bend == "portrait" else ""
        lines.append(
            f"{sender.id},in/{slipped.get(sender.id, sender.id)},{sender.shown},arm.yaml,{fill},"
            f"web profiles/phone.yaml,"
            f"2028-04-{number + 2:02},2028-02-{number + 1:02},{fault},{model}"
        )
    return "\n".join(lines) + "\n"


PHONE = """\
# A small version for phones, so that the demonstration stays quick. Common practice, no source.
what: For phones, small
scope: short
loudness: -16 LUFS
true_peak: -1 dBTP
container: mp4
picture: {codec: h264, preset: veryfast, quality: 24}
sound: {codec: aac, bit_rate: 96 kbit/s}
"""


UPRIGHT = """\
# Where to look in a picture that is higher than wide: the player, not the sky.
viewer_face_on: {focus: [0.5, 0.66]}
"""


def make(folder: Path, senders: Sequence[Sender] = SENDERS) -> Path:
    """Makes the season in a folder; returns its table. Clips that are there stay."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(HERE / "arm.yaml", folder / "arm.yaml")
    (folder / "profiles").mkdir(exist_ok=True)
    (folder / "profiles" / "phone.yaml").write_text(PHONE, "utf-8")
    model = folder / "models" / "ola.mp4"
    if not model.exists():
        shown = list(range(FIRST, LAST, 2))
        write_clip(model, [drawn("model")[k] for k in shown], [Fraction(k, 60) for k in range(len(shown))])
    for sender in senders:
        place = folder / "in" / sender.id
        clip = place / "sent" / f"{sender.id}.mp4"
        if not clip.exists():
            film(clip, sender)
        record(place, sender)
    (folder / "upright.yaml").write_text(UPRIGHT, "utf-8")
    path = folder / TABLE
    path.write_text(table(senders), "utf-8")
    return path


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit("name the folder that the season is to be made in")
    print(make(Path(sys.argv[1])))
