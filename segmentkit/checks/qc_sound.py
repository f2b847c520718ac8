"""Sound of a finished file: loudness, peaks, clipping, silence where something should be heard, sync, channels."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from segmentkit.checks.qc_check import Answer, Mark, marked, not_checked, qc_check
from segmentkit.checks.qc_wanted import NO_DELIVERY, NO_PLAN, NO_SOUND, Wanted, file_span
from segmentkit.checks.say import counted, lasting
from segmentkit.findings import Severity
from segmentkit.plan.model import Plan
from segmentkit.screened import Screened
from segmentkit.timebase import Span, frames_covering

LOUDNESS_PASS, LOUDNESS_MOST = 0.2, 0.5
TRUE_PEAK_METER = 0.2
"""How far one conforming meter may read above another: EBU Tech 3341, test signals 15 to 23 (+0.2 dB)."""
SILENT_LEAST = Fraction(1)
LATE, EARLY = 0.060, 0.040
_RANGE_SECONDS = 60
_ALIKE = 0.5
_SURE = 0.8
_DEAD = 50.0


@qc_check(
    "qc-loudness", "Loudness",
    limit="the delivery's target; up to 0.2 LU off passes, up to 0.5 LU is a warning",
    source="ITU-R BS.1770-4; EBU R 128 (0.2 LU for quality control, 0.5 LU where the exact level is not practical)",
)  # fmt: skip
def loudness(measured: Screened, wanted: Wanted) -> Answer:
    """A programme that is louder than its neighbours makes people reach for the remote control."""
    sound, delivery = measured.sound, wanted.delivery
    if sound is None:
        return not_checked(NO_SOUND)
    found = sound.loudness.integrated
    value = f"{_lufs(found)}; momentary {_lufs(sound.momentary)}, short-term {_lufs(sound.short_term)} at most"
    if delivery is None:
        return Answer(value=value, because=f"{NO_DELIVERY}, so there is no target")
    if not math.isfinite(found):
        return Answer(value="silence", because="nothing passes the gate at -70 LUFS")
    off = found - delivery.loudness
    if abs(off) <= LOUDNESS_PASS:
        return marked(value, [])
    return marked(
        value,
        [
            Mark(
                what=f"{found:.1f} LUFS, {abs(off):.1f} LU {'above' if off > 0 else 'below'} the target of "
                f"{delivery.loudness:g} LUFS — up to {LOUDNESS_MOST} LU is allowed",
                remedy="render it again for this profile",
                severity=Severity.ERROR if abs(off) > LOUDNESS_MOST else Severity.WARNING,
                numbers=(("lufs", round(found, 2)), ("target", delivery.loudness)),
            )
        ],
    )


@qc_check(
    "qc-true-peak", "True peak",
    limit="the delivery's highest true peak; 0.2 dB more, by which meters may differ, is a warning",
    source="ITU-R BS.1770-4, annex 2; EBU Tech 3341",
)  # fmt: skip
def true_peak(measured: Screened, wanted: Wanted) -> Answer:
    """Peaks between the samples distort in the converter and in the next coder."""
    if measured.sound is None:
        return not_checked(NO_SOUND)
    found = measured.sound.loudness.true_peak
    if wanted.delivery is None:
        return Answer(value=f"{found:.1f} dBTP", because=f"{NO_DELIVERY}, so there is no limit")
    over = found - wanted.delivery.true_peak
    if over <= 0:
        return marked(f"{found:.1f} dBTP", [])
    return marked(
        f"{found:.1f} dBTP",
        [
            Mark(
                what=f"{found:.1f} dBTP — at most {wanted.delivery.true_peak:g} dBTP is allowed",
                remedy="render it again for this profile",
                severity=Severity.ERROR if over > TRUE_PEAK_METER else Severity.WARNING,
                span=_loudest(measured),
                numbers=(("dbtp", round(found, 2)), ("limit", wanted.delivery.true_peak)),
            )
        ],
    )


def _loudest(measured: Screened) -> Span | None:
    """The frame with the highest sample, for somebody to listen to."""
    envelope = measured.sound.envelope if measured.sound else ()
    if not envelope:
        return None
    at = max(range(len(envelope)), key=envelope.__getitem__)
    frame = int((Fraction(at, 20) + measured.sound.start if measured.sound else 0) * measured.coded.rate.fps)
    frame = min(max(frame, measured.programme.start), measured.programme.end - 1)
    return Span(frame, frame + 1)


@qc_check(
    "qc-loudness-range", "Loudness range",
    limit="none; a number to know",
    source="EBU Tech 3342, which does not recommend it below 60 s",
)  # fmt: skip
def loudness_range(measured: Screened, wanted: Wanted) -> Answer:
    """How far soft and loud are apart; a segment that plays in a kitchen wants it small. Nobody fails by it."""
    del wanted
    if measured.sound is None:
        return not_checked(NO_SOUND)
    seconds = measured.programme.frames / measured.coded.rate.fps
    short = f"; informational, {float(seconds):.0f} s is below 60 s" if seconds < _RANGE_SECONDS else ""
    return marked(f"{measured.sound.loudness.range:.1f} LU{short}", [])


@qc_check(
    "qc-clipping", "Clipped samples",
    limit="no three samples in a row at full scale on one channel",
    source="common practice, no source",
)  # fmt: skip
def clipping(measured: Screened, wanted: Wanted) -> Answer:
    """A wave with its top cut off crackles, however loud it is."""
    del wanted
    if measured.sound is None:
        return not_checked(NO_SOUND)
    marks = [
        Mark(
            what=f"{counted(one.runs, 'run')} of samples stand at full scale, the longest {one.longest} samples — "
            "fewer than 3 in a row are allowed",
            remedy="record or export that sound again at a lower level, and render",
            span=one.span,
            numbers=(("runs", one.runs), ("longest", one.longest)),
        )
        for one in measured.sound.clipped
    ]
    return marked(counted(sum(one.runs for one in measured.sound.clipped), "run") if marks else "none", marks)


@qc_check(
    "qc-silence", "Silence",
    limit="no second below -60 dBFS within a spoken line or under music",
    source="common practice, no source; the level is that of ffmpeg's silencedetect",
)  # fmt: skip
def silence(measured: Screened, wanted: Wanted) -> Answer:
    """A line nobody hears is a take that is missing, or a track that was left out."""
    sound, plan = measured.sound, wanted.plan
    if sound is None:
        return _no_sound(wanted)
    rate = measured.coded.rate
    least = frames_covering(SILENT_LEAST, rate)
    long = [span for span in sound.silences if span.frames >= least]
    if plan is None:
        return Answer(
            value=f"{counted(len(long), 'stretch', 'stretches')} of a second or more",
            because=f"{NO_PLAN}, so nobody knows where something should be heard",
        )
    marks = []
    for what, span, severity in _heard(measured, plan):
        for quiet in sound.silences:
            shared = quiet.overlap(span)
            if shared >= least:
                start = max(quiet.start, span.start)
                marks.append(
                    Mark(
                        what=f"nothing is heard for {lasting(shared, rate)} during {what} — less than "
                        f"{lasting(least, rate)} is allowed",
                        remedy="listen to the take or the music there, and render again",
                        span=Span(start, start + shared),
                        severity=severity,
                    )
                )
    return marked(counted(len(marks), "stretch", "stretches") if marks else "none where sound is planned", marks)


def _no_sound(wanted: Wanted) -> Answer:
    plan = wanted.plan
    if plan is None or not (plan.speech or plan.music) or (wanted.delivery and wanted.delivery.sound is None):
        return not_checked(NO_SOUND)
    return marked(
        "no sound",
        [
            Mark(
                what="the file has no sound, and words or music are planned — they must be heard", remedy="render again"
            )
        ],
    )


def _heard(measured: Screened, plan: Plan) -> Iterator[tuple[str, Span, Severity]]:
    """What is planned to be heard, and when, in frames of the file."""
    for line in plan.speech:
        if line.path is not None:
            yield f"the words of beat {line.beat}", file_span(measured, plan, line.span), Severity.ERROR
    for number, cue in enumerate(plan.music, 1):
        start, end = cue.span.start + cue.fade_in, cue.span.end - cue.fade_out
        if start < end:
            yield f"music {number}", file_span(measured, plan, Span(start, end)), Severity.WARNING


@qc_check(
    "qc-dropouts", "Dropouts",
    limit="nothing of 20 ms or more that the plan's mix has and the file lacks; without a mix, no sound that falls to "
    "nothing and comes back at once",
    source="the plan's own mix; common practice, no source",
)  # fmt: skip
def dropouts(measured: Screened, wanted: Wanted) -> Answer:
    """A hole in the sound that is too short to be a pause is damage."""
    sound = measured.sound
    if sound is None:
        return not_checked(NO_SOUND)
    compared = sound.sync is not None and sound.sync.likeness >= _ALIKE
    rate = measured.coded.rate
    quiet = [span for span in sound.silences if span.frames >= frames_covering(SILENT_LEAST, rate)]
    found = sound.missing if compared else sound.gaps
    marks = [
        Mark(
            what=f"the sound is gone for {1000 * lasts:.0f} ms"
            + (" where the plan's mix has some" if compared else ", from loud to nothing and back")
            + " — none may be missing",
            remedy="listen there, and render again" if wanted.plan else "listen whether this is meant",
            span=span,
            severity=Severity.ERROR if compared else Severity.WARNING,
            numbers=(("milliseconds", round(1000 * lasts)),),
        )
        for span, lasts in found
        if not any(span.overlap(one) == span.frames for one in quiet)
    ]
    by = "against the plan's mix" if compared else "by itself, since there was no mix to compare with"
    return marked(f"{counted(len(marks), 'dropout') if marks else 'none'}, {by}", marks)


@qc_check(
    "qc-sync", "Sound and picture",
    limit="sound at most 40 ms early and 60 ms late",
    source="EBU R 37, figures as quoted: 40 ms early, 60 ms late overall",
)  # fmt: skip
def sync(measured: Screened, wanted: Wanted) -> Answer:
    """Words that come late fall beside their strokes.

    The sound of the file is compared with the plan's own mix, from the first picture on; pictures are where the plan
    has them when length and cuts pass.
    """
    if measured.sound is None:
        return not_checked(NO_SOUND)
    found = measured.sound.sync
    if found is None:
        return not_checked(NO_PLAN + " whose sound could be laid beside this one" if wanted.plan is None
                           else "nothing sounds in the plan's mix, or in the file")  # fmt: skip
    if found.likeness < _ALIKE:
        mark = Mark(
            what=f"the sound is like the plan's mix by {found.likeness:.2f} at the best shift within 600 ms — "
            f"{_ALIKE} or more is expected",
            remedy="look whether this is the sound of this storyboard, or more than 600 ms off",
            numbers=(("likeness", round(found.likeness, 3)),),
        )
        return marked("not the planned sound", [mark])
    whole = _off(found.late, None)
    marks = [whole] if whole else []
    if not marks:
        for frame, late, likeness in found.windows:
            if likeness >= _SURE and (drifted := _off(late, Span(frame, frame + 1))):
                marks.append(drifted)
    return marked(f"{_shift(found.late)}, likeness {found.likeness:.2f}", marks[:10])


def _off(late: float, span: Span | None) -> Mark | None:
    if -EARLY <= late <= LATE:
        return None
    return Mark(
        what=f"the sound is {_shift(late)} — at most 40 ms early and 60 ms late is allowed",
        remedy="render again; if it stays, check the take's handles and the delivery's leader",
        span=span,
        numbers=(("late_ms", round(1000 * late, 1)),),
    )


def _shift(late: float) -> str:
    return f"{abs(1000 * late):.0f} ms {'late' if late >= 0 else 'early'}" if abs(late) >= 0.0005 else "in time"


@qc_check(
    "qc-channels", "Channels",
    limit="two channels, both alive, not in opposition (correlation above -0.5), left where left was planned",
    source="common practice, no source",
)  # fmt: skip
def channels(measured: Screened, wanted: Wanted) -> Answer:
    """A dead or reversed channel is heard by half the audience, and by nobody in the edit suite."""
    sound = measured.sound
    if sound is None:
        return not_checked(NO_SOUND)
    marks = []
    if sound.channels != 2 and wanted.delivery is not None:
        marks.append(Mark(what=f"{counted(sound.channels, 'channel')} — 2 are delivered", remedy="render it again"))
    loud, quiet = max(sound.powers), min(sound.powers)
    if math.isfinite(loud) and loud - quiet >= _DEAD and sound.channels == 2:
        side = "right" if sound.powers[1] == quiet else "left"
        at = f"{quiet:.0f} dBFS" if math.isfinite(quiet) else "silent"
        marks.append(
            Mark(
                what=f"the {side} channel is {at} beside {loud:.0f} dBFS — both carry sound",
                remedy="look for a take or track that has one side only, and render again",
                numbers=(("loud_dbfs", round(loud, 1)),),
            )
        )
    marks += list(_opposed(sound.correlation))
    if sound.sync is not None and sound.sync.swapped:
        marks.append(
            Mark(what="left and right are the plan's right and left — they must not be swapped",
                 remedy="render it again")
        )  # fmt: skip
    return marked(_channel_value(sound.channels, sound.correlation, sound.apart), marks)


def _opposed(correlation: float | None) -> Iterator[Mark]:
    if correlation is not None and correlation < 0:
        yield Mark(
            what=f"left and right oppose one another, correlation {correlation:.2f} — in mono they would cancel; above "
            "-0.5 is allowed, above 0 is usual",
            remedy="look for a source whose polarity is reversed on one side",
            severity=Severity.ERROR if correlation <= -0.5 else Severity.WARNING,
            numbers=(("correlation", round(correlation, 2)),),
        )


def _channel_value(channels: int, correlation: float | None, apart: float | None) -> str:
    if channels != 2:
        return "mono" if channels == 1 else counted(channels, "channel")
    if correlation is None:
        return "stereo, one side silent"
    if apart is not None and apart < -60:
        return "the same on both sides (dual mono)"
    return f"stereo, correlation {correlation:.2f}"


def _lufs(value: float) -> str:
    return f"{value:.1f} LUFS" if math.isfinite(value) else "silence"
