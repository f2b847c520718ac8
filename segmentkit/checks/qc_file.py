"""The file itself: length, rate, coding, tracks, words in its headers, captions beside it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from segmentkit.checks.qc_check import Answer, Mark, marked, not_checked, qc_check
from segmentkit.checks.qc_wanted import NO_DELIVERY, NO_PLAN, Wanted, file_span, wanted_frames
from segmentkit.checks.say import counted, lasting, listed, quoted
from segmentkit.findings import Severity
from segmentkit.screened import Screened, Sidecar, Tag
from segmentkit.timebase import SAMPLE_RATE, Span, label_of_frame

_COLOUR = "bt709/bt709/bt709/tv"
_FAMILIES = {
    "mp4": "mp4", "mov": "mov", "mxf": "mxf", "webm": "webm", "mkv": "matroska",
}  # fmt: skip


@qc_check(
    "qc-length", "Length",
    limit="as many frames as planned, to the frame; sound as long as the picture, to a frame",
    source="the plan",
)  # fmt: skip
def length(measured: Screened, wanted: Wanted) -> Answer:
    """A slot is met to the frame, or somebody is cut off."""
    rate, frames, programme = measured.coded.rate, measured.pictures.frames, measured.programme
    marks = list(_sound_length(measured))
    around = frames - programme.frames
    beside = f", {programme.start} frames before and {frames - programme.end} after" if around else ""
    label = f" ({label_of_frame(programme.frames, rate)})" if rate.has_labels else ""
    value = f"{programme.frames} frames{label}{beside}"
    if programme.end > frames:
        marks.append(
            Mark(
                what=f"{counted(frames, 'frame')} decode — the programme's last is frame {programme.end - 1}",
                remedy="render it again",
                numbers=(("frames", frames), ("wanted", programme.end)),
            )
        )
    if wanted.plan is None:
        return Answer(value=value, marks=tuple(marks), because=f"{NO_PLAN}, so any length is right")
    due = wanted_frames(wanted.plan, rate)
    if not -1 < programme.frames - due < 1 or (due.denominator == 1 and programme.frames != due):
        off = programme.frames - due
        marks.append(
            Mark(
                what=f"{counted(programme.frames, 'frame')}, {lasting(abs(round(off)), rate)} "
                f"{'more' if off > 0 else 'fewer'} than the {float(due):g} that are planned — they must be equal",
                remedy="render it again",
                numbers=(("frames", programme.frames), ("wanted", Fraction(due))),
            )
        )
    return marked(value, marks)


def _sound_length(measured: Screened) -> Iterator[Mark]:
    if measured.sound is None:
        return
    rate = measured.coded.rate
    pictures = measured.pictures.frames / rate.fps
    ends = measured.sound.start + Fraction(measured.sound.samples, SAMPLE_RATE)
    off = ends - pictures
    # A lossy coder's last block may be filled up with silence: 1024 samples of AAC, 960 of Opus at 20 ms.
    allowed = 1 / rate.fps + Fraction(1024, SAMPLE_RATE)
    if abs(off) > allowed:
        yield Mark(
            what=f"the sound ends {float(abs(off)):.3f} s {'after' if off > 0 else 'before'} the picture — they may "
            f"differ by a frame and a coder's block, {float(allowed):.3f} s",
            remedy="render it again",
            span=Span(max(0, min(measured.pictures.frames, int(ends * rate.fps)) - 1), measured.pictures.frames)
            if off < 0
            else None,
            numbers=(("seconds", round(float(off), 3)),),
        )


@qc_check(
    "qc-rate", "Constant rate",
    limit="every frame begins when the stated rate says",
    source="the file's own header",
)  # fmt: skip
def constant_rate(measured: Screened, wanted: Wanted) -> Answer:
    """Players and editing programs count on it; a frame that comes late makes the next cut wrong."""
    del wanted
    uneven = measured.pictures.uneven
    value = f"{measured.coded.rate} frames a second"
    if uneven is None:
        return marked(value, [])
    mark = Mark(
        what=f"frame {uneven} does not begin when {measured.coded.rate} frames a second say — all must",
        remedy="write the file again at a constant rate",
        span=Span(uneven, uneven + 1),
    )
    return marked(value, [mark])


@qc_check(
    "qc-coding", "Coding",
    limit="container, size, rate, sampling, fields and colour as the delivery profile has them",
    source="the delivery profile; colour by ITU-R BT.709",
)  # fmt: skip
def coding(measured: Screened, wanted: Wanted) -> Answer:
    """A file of another kind is refused at the door, or plays in the wrong colours."""
    coded, to = measured.coded, wanted.delivery
    value = (
        f"{coded.container.split(',')[0]}, {coded.picture}, {coded.size}, {coded.pixels}, {coded.colour}"
        f"{', interlaced' if coded.fields else ''}{f', {coded.sound}' if coded.sound else ''}"
    )
    if to is None:
        return Answer(value=value, because=NO_DELIVERY)
    plan = wanted.plan
    size = to.size or (plan.size if plan else None)
    rate = to.rate or (plan.rate if plan else None)
    pairs: list[tuple[str, object, object]] = [
        ("sampling", coded.pixels, to.picture.pixels),
        ("fields", coded.fields, to.fields is not None),
        ("colour", coded.colour, _COLOUR),
    ]
    pairs += [("size", coded.size, size)] if size else []
    pairs += [("rate", coded.rate, rate)] if rate else []
    marks = [
        Mark(what=f"{what}: {_told(found)} — {_told(due)} is delivered", remedy="render it again for this profile")
        for what, found, due in pairs
        if found != due
    ]
    family = _FAMILIES.get(to.container, to.container)
    if family not in coded.container:
        marks.append(Mark(what=f"container: {coded.container} — {to.container} is delivered", remedy="render it again"))
    return marked(value, marks)


def _told(value: object) -> str:
    return ("two fields a frame" if value else "whole pictures") if isinstance(value, bool) else str(value)


@qc_check(
    "qc-tracks", "Tracks",
    limit="one of pictures, one of sound where sound is delivered, nothing unknown beside them",
    source="common practice, no source",
)  # fmt: skip
def tracks(measured: Screened, wanted: Wanted) -> Answer:
    """A track that nobody knows of may hold what nobody should have: positions, takes, other versions."""
    coded, to = measured.coded, wanted.delivery
    marks = []
    if coded.pictures != 1:
        marks.append(Mark(what=f"{coded.pictures} tracks of pictures — one is delivered", remedy="render it again"))
    due = 1 if to is None or to.sound is not None else 0
    if coded.sounds > 1 or (to is not None and coded.sounds != due):
        marks.append(
            Mark(what=f"{counted(coded.sounds, 'track')} of sound — {due} is delivered", remedy="render it again")
        )
    if coded.others:
        marks.append(
            Mark(
                what=f"{counted(len(coded.others), 'further track')}: {listed(sorted(set(coded.others)))} — none is "
                "delivered",
                remedy="write the file again without it",
                severity=Severity.WARNING,
            )
        )
    return marked(f"{coded.pictures} of pictures, {coded.sounds} of sound", marks)


_PLACES = re.compile(r"location|gps|geo|xyz|latitude|longitude|position \(|EXIF position", re.IGNORECASE)
_ISO_6709 = re.compile(r"[+-]\d{2,6}(\.\d+)?[+-]\d{3,7}(\.\d+)?")
_DEVICE = re.compile(r"^(make|model|software|com\.(apple|android)\..*|host.*|computer.*|.*serial.*)$", re.IGNORECASE)
_PATH = re.compile(r"^(file:|/|[A-Za-z]:\\|\\\\)\S|(/home/|/Users/|/root/|/tmp/|\\Users\\)")


@qc_check(
    "qc-metadata", "Words in the headers",
    limit="no place, no path, no device or host, no minor's name",
    source="common practice, no source; places as ISO 6709 and in the boxes of 3GPP TS 26.244",
)  # fmt: skip
def metadata(measured: Screened, wanted: Wanted) -> Answer:
    """A phone writes where a viewer lives into every clip; what is handed over must not say it again."""
    marks = []
    for tag in measured.tags:
        reason = _private(tag, wanted)
        if reason:
            marks.append(
                Mark(
                    what=f"{tag.where}, {quoted(tag.name, 40)}: holds {reason} — "
                    "headers hold title, chapters and coding",
                    remedy="write the file again without it",
                )
            )
    return marked(f"{counted(len(measured.tags), 'word')} read, {len(marks)} private", marks)


def _private(tag: Tag, wanted: Wanted) -> str:
    """What a tag gives away; the text itself is not repeated, since the report travels too."""
    if _PLACES.search(tag.name) or _ISO_6709.search(tag.value):
        return "a place"
    if _PATH.search(tag.value) or "path" in tag.name:
        return "a path of a computer"
    if _DEVICE.match(tag.name):
        return "the name of a device or host"
    for what, word in wanted.private:
        if len(word) > 2 and re.search(rf"(?<!\w){re.escape(word)}(?!\w)", tag.value, re.IGNORECASE):
            return what
    return ""


@qc_check(
    "qc-captions", "Captions",
    limit="a readable file beside the movie where captions are planned; every caption inside the programme, in order, "
    "as many as planned",
    source="the plan; WebVTT (W3C) and IMSC (W3C) as read by segmentkit's own readers",
)  # fmt: skip
def captions(measured: Screened, wanted: Wanted) -> Answer:
    """Whoever cannot hear gets nothing when the file is not there."""
    if wanted.captions is None and not wanted.sidecars:
        return not_checked("nobody said whether captions belong to this file")
    marks = []
    if wanted.captions and not wanted.sidecars:
        marks.append(
            Mark(
                what="0 caption files lie beside the movie — captions are planned, so there is one at least",
                remedy="write them with `segmentkit captions`, beside the movie",
            )
        )
    for sidecar in wanted.sidecars:
        marks += _sidecar(sidecar, measured, wanted)
    if not wanted.captions and not wanted.sidecars:
        return marked("none planned", [])
    names = listed([f"{one.path.name} ({counted(len(one.cues), 'caption')})" for one in wanted.sidecars])
    return marked(names if wanted.sidecars else "no file", marks)


def _sidecar(sidecar: Sidecar, measured: Screened, wanted: Wanted) -> Iterator[Mark]:
    name = sidecar.path.name
    if sidecar.fault:
        yield Mark(what=f"{name}: cannot be read: {sidecar.fault}", remedy="write the captions again")
        return
    if not sidecar.cues:
        yield Mark(what=f"{name}: holds 0 captions — words are spoken, so there are some",
                   remedy="write the captions again", severity=Severity.WARNING)  # fmt: skip
        return
    # Captions are counted in frames of the plan; an interlaced file shows two of them in one.
    plan = wanted.plan
    frames = plan.frames if plan is not None else measured.programme.frames
    outside = [cue for cue in sidecar.cues if cue.end > frames]
    if outside:
        yield Mark(
            what=f"{name}: {counted(len(outside), 'caption')} after the programme's end — all stand inside it",
            remedy="write the captions again from this storyboard",
            span=Span(measured.programme.end - 1, measured.programme.end),
        )
    backwards = next((b for a, b in pairwise(sidecar.cues) if b.start < a.start), None)
    if backwards is not None:
        start = measured.programme.start
        span = Span(start + backwards.start, start + max(backwards.end, backwards.start + 1))
        yield Mark(
            what=f"{name}: caption {sidecar.cues.index(backwards) + 1} starts before the one above it — they follow"
            " one another",
            remedy="write the captions again",
            span=file_span(measured, plan, backwards) if plan is not None else span,
        )
    if wanted.spoken and not any(_same(sidecar.cues, spoken) for spoken in wanted.spoken):
        yield Mark(
            what=f"{name}: its {counted(len(sidecar.cues), 'caption')} are not those of this storyboard — they stand "
            "on the planned frames",
            remedy="write the captions again from this storyboard",
            severity=Severity.WARNING,
        )


def _same(found: tuple[Span, ...], planned: tuple[Span, ...]) -> bool:
    """Whether captions stand where they were planned, to a frame."""
    return len(found) == len(planned) and all(
        abs(one.start - other.start) <= 1 and abs(one.end - other.end) <= 1
        for one, other in zip(found, planned, strict=True)
    )
