"""Fault presets: drawn only where the camera allows it, and spoken of only as far as the picture goes."""

from __future__ import annotations

import re
from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import words_pattern
from segmentkit.checks.say import counted, number, quoted
from segmentkit.findings import Severity
from segmentkit.storyboard.expand import pictures_of
from segmentkit.storyboard.model import Beat
from segmentkit.storyboard.presets import Preset


def _uses(context: CheckContext) -> Iterator[tuple[int, Beat, Preset, str]]:
    """Each beat with a preset, and each clip that it is drawn on."""
    for index, beat in enumerate(context.board.beats):
        preset = context.loaded.presets.get(beat.fault or "")
        if preset is None:
            continue
        for clip in dict.fromkeys(picture.clip for picture in pictures_of(beat, preset)):
            yield index, beat, preset, clip


@check("fault-camera-crooked", Severity.ERROR)
def fault_camera_crooked(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The camera lies before the coach does.

    From beside its line a camera shows the same pose open or closed, laid off or across. Each fault preset says how far
    aside the camera may have stood; beyond that its lines mislead, whatever they show.
    """
    del limits
    for index, beat, preset, clip in _uses(context):
        camera = context.board.clips[clip].camera
        if camera is None or abs(camera.yaw) + camera.within <= preset.yaw:
            continue
        yield Remark(
            where=f"beat {beat.beat}, fault {beat.fault}",
            what=f"the camera of clip {clip} stood {number(abs(camera.yaw))} degrees aside, give or take "
            f"{number(camera.within)} — for {quoted(preset.name)} it may be {number(preset.yaw)} degrees at most, all "
            "told",
            remedy="have it filmed again from the line, or choose a fault that this view can show",
            path=("beats", index, "fault"),
            numbers=(("yaw", abs(camera.yaw)), ("within", camera.within), ("most", preset.yaw)),
        )


@check("fault-camera-unknown", Severity.NOTE)
def fault_camera_unknown(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """What a preset shows holds for a camera that stands on its line; a person should have looked at that."""
    del limits
    for index, beat, preset, clip in _uses(context):
        if context.board.clips[clip].camera is None:
            yield Remark(
                where=f"beat {beat.beat}, fault {beat.fault}",
                what=f"nothing says how the camera of clip {clip} stood — {quoted(preset.name)} holds up to "
                f"{number(preset.yaw)} degrees aside",
                remedy=f"look at the clip, and write camera: {{yaw: ...}} for {clip}",
                path=("beats", index, "fault"),
                numbers=(("most", preset.yaw),),
            )


@check("fault-wording", Severity.WARNING)
def fault_wording(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Each fault has words that one picture does not bear out; its preset lists them beside honest ones."""
    del limits
    for index, beat in enumerate(context.board.beats):
        preset = context.loaded.presets.get(beat.fault or "")
        if preset is None:
            continue
        for line in beat.say:
            said = [m[0] for phrase in preset.never for m in words_pattern(re.escape(phrase)).finditer(line.text)]
            if said:
                yield Remark(
                    where=f"beat {beat.beat}, fault {beat.fault}",
                    what=f"{quoted(said[0])} is said ({counted(len(said), 'such wording')}) — one picture does not "
                    f"show it: {preset.not_to_say[0].rstrip('.')}",
                    remedy=f"say, for instance: {preset.say[0].rstrip('.')}",
                    path=("beats", index, "say"),
                    numbers=(("wordings", len(said)),),
                )
