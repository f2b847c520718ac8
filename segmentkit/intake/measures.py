"""The numbers of a clip in words, each with what it can and what it cannot know."""

from __future__ import annotations

from segmentkit.intake.survey import Survey
from segmentkit.intake.verdict import Measure
from segmentkit.media.guarded import Header


def measures_of(seen: Survey, header: Header) -> tuple[Measure, ...]:
    """All measures, in the order of looking."""
    framing, steady = seen.framing, seen.steady
    none = "could not be measured"
    made = (
        ("decoded", f"{seen.frames} frames, {float(seen.duration):.2f} s, to the end",
         "that every picture decodes", "whether the person cut something off"),
        ("rate", f"{seen.rate:.2f} frames a second, {seen.slowest:.0f} at the slowest near the strike",
         "the times written in the file", "frames that the phone dropped without a trace"),
        ("capture rate", _capture(seen),
         "what the phone wrote, or the shape of the motion", "the true rate of an edited slow-motion file"),
        ("size", f"{seen.size}", "pixels", "whether an app made them out of fewer"),
        ("camera", f"moves {100 * steady.drift:.2f} %, shakes {100 * steady.shake:.3f} %" if steady.known else none,
         "how the background shifts", "turning about the lens, height, angle, distance"),
        ("framing", f"{100 * framing.area.height:.0f} % high, cut at {', '.join(framing.cut) or 'no edge'}"
         if framing else none,
         "what moves, down to a shaft's width", "what never moves, such as feet; a shadow from a player"),
        ("sharpness", f"{100 * seen.edges:.2f} % of the height" if seen.edges is not None else none,
         "the width of edges on the player at rest", "whether the camera sharpened them"),
        ("smear", none if seen.smear is None else "beyond measure" if seen.smear == float("inf")
         else f"{seen.smear:.2f} times the edges at rest",
         "hands and arms at their fastest", "the exposure time; the club head alone"),
        ("brightness", f"{seen.light.middle:.0f} of 235, {100 * seen.light.burnt:.1f} % burnt",
         "the part where the player moves", "a face by itself"),
        ("light", f"wavers {100 * seen.flicker:.2f} %", "rows of the picture over time",
         "wavering in step with the frames"),
        ("coding", f"{header.codec}, {header.bit_rate / 1e6:.1f} Mbit/s"
         + (f", quantiser {header.quantiser:.0f}" if header.quantiser is not None else f", blocks {seen.blocks:.2f}"),
         "how this file was coded", "how often it was coded before"),
        ("sound", _sound(seen), "clicks against what comes before them", "whose click it is"),
        ("swings", f"{len(seen.swings)}", "bursts of motion with a top before them",
         "practice swing or real one; whether a ball was hit"),
        ("mirrored", "the file asks for it" if header.mirrored else "the file does not say so",
         "what the file says; hand and view against the motion", "a picture mirrored by an app"),
        ("lettering", "found" if seen.lettering else "none found",
         "rows of letters near the edges", "marks without letters; a sign from a watermark"),
        ("view and hand", "as stated", "contradictions in the motion", "the angle of the camera to the target line"),
    )  # fmt: skip
    return tuple(Measure(id=id_, value=value, knows=knows, cannot=cannot) for id_, value, knows, cannot in made)


def _capture(seen: Survey) -> str:
    if seen.capture is not None:
        return f"{seen.capture:g} a second, as stated; the file runs {seen.pace:.3g} times slower"
    if seen.pace > 1.2:
        return f"not stated; the file looks {seen.pace:g} times slower than real time"
    return "not stated; the motion looks like real time"


def _sound(seen: Survey) -> str:
    if seen.clicks is None:
        return "none"
    if not seen.clicks:
        return "no click"
    return ", ".join(f"click at {click.second:.2f} s, {click.above:.0f} dB above" for click in seen.clicks[:3])
