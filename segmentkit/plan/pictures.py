"""What is shown: pictures in their places, how they move, come in and are matched; shots made of them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from segmentkit.geometry import Placement, Point, Rect, between
from segmentkit.timebase import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipPicture:
    """A clip in motion or frozen: for each output frame of the shot, the source frame that is shown.

    Attributes:
        clip: id of the clip.
        frames: one source frame for each output frame; all equal in a freeze.
        position: name of the frozen position, for labels and sheets.
    """

    clip: str
    frames: tuple[int, ...]
    position: str | None = None

    @property
    def frozen(self) -> bool:
        """Whether it shows one frame throughout."""
        return self.frames[0] == self.frames[-1] and len(set(self.frames)) == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StillPicture:
    """A still picture."""

    still: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """A gentle change of brightness and tint: new luma = gain * (old - 16) + 16 + lift, and a shift of each chroma.

    Attributes:
        gain: factor of the luma above black.
        lift: added to it, in code values.
        blue: added to Cb, in code values; `red` to Cr.
    """

    gain: float
    lift: float
    blue: float
    red: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A picture on its way to another placement; it rests before and after.

    Attributes:
        to: where it arrives.
        start: frames from the start of the shot at which it sets out.
        frames: how long it takes, and the way back.
        back: frames from the start of the shot at which it sets out on its way back; None when it stays.
    """

    to: Placement
    start: int
    frames: int
    back: int | None = None

    def part(self, offset: int) -> float:
        """Part of the way behind it on a frame of the shot, 0 to 1; it sets out and arrives at rest (smoothstep)."""
        gone = (offset - self.start) / self.frames
        if self.back is not None:
            gone = min(gone, 1 - (offset - self.back) / self.frames)
        gone = min(1.0, max(0.0, gone))
        return gone * gone * (3 - 2 * gone)


@dataclass(frozen=True, slots=True)
class Face:
    """A face that labels keep off: middle in fractions of the upright picture, radius as a part of its height."""

    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pane:
    """A picture in its place on the canvas.

    Attributes:
        picture: what is shown.
        placement: where the whole source lies, and the window that shows part of it; where it starts, if it moves.
        name: what strokes call it, such as "left"; empty where a shot has only one.
        faces: where faces are, as far as somebody named them.
        figure: the box around the player's trunk, in fractions of the upright picture; None when it is not known.
        body: boxes around what labels keep off: head and arms, hips and legs, club and ball as far as they are known.
        move: how its placement changes within the shot.
        soften: blurred and dimmed, as the ground for a card.
        opacity: how much of it is seen over the panes before it.
        inset: whether it lies over the panes before it, with an edge of its own, and hides their strokes.
        light: how its brightness and tint were brought near those of the first pane.
        label: text in a corner, such as a name.
        note: second, smaller text of the label, such as "mirrored".
        label_at: where in the window: (0, 0) its upper left corner, (1, 1) the lower right one.
        label_room: the canvas rectangle in which the label stands, when that is not the window.
    """

    picture: ClipPicture | StillPicture
    placement: Placement
    name: str = ""
    move: Move | None = None
    soften: bool = False
    faces: tuple[Face, ...] = ()
    figure: Rect | None = None
    body: tuple[Rect, ...] = ()
    opacity: float = 1.0
    inset: bool = False
    light: Light | None = None
    label: str | None = None
    note: str | None = None
    label_at: tuple[float, float] = (0.0, 0.0)
    label_room: Rect | None = None

    @property
    def label_window(self) -> Rect:
        """The rectangle that its label lies in."""
        return self.label_room or self.whole_window

    @property
    def whole_window(self) -> Rect:
        """The window at its largest, also while an edge still uncovers it."""
        first, last = self.placement.window, self.move.to.window if self.move is not None else self.placement.window
        return max(first, last, key=lambda window: window.width * window.height)

    def placement_at(self, offset: int) -> Placement:
        """Its placement on a frame of the shot, counted from the shot's start; the same object while it rests."""
        if self.move is None:
            return self.placement
        return between(self.placement, self.move.to, self.move.part(offset))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """How a shot takes the place of the one before: over its own first frames, above that one's last picture.

    Attributes:
        by: dissolve, wipe or push.
        frames: how many of the shot's frames are a mixture; the one after them is the shot alone.
    """

    by: str
    frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """What was made alike between the panes of a comparison, and what is left between them.

    Attributes:
        by: what was asked for: ground, belt, level, events, light.
        scales: canvas pixels a source pixel of each pane; `turns` its degrees.
        heel: height between the heel lines, in pixels at a picture height of 1080; None without such points.
        belt: difference of heel to belt in per cent of the first pane's; None without such points.
        spots: the same as `heel` for the other points that all panes have at the matched position, by name.
        events: positions at which the running sides meet.
    """

    by: tuple[str, ...]
    scales: tuple[float, ...]
    turns: tuple[float, ...]
    heel: float | None
    belt: float | None
    spots: tuple[tuple[str, float], ...]
    events: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One picture of a beat: no pane (a plain card ground), one pane (full frame) or several (a comparison, an inset).

    Attributes:
        id: `<beat>/<index>`.
        kind: run, freeze, split, three_up, overlay, wipe, still, title or end_board.
        speed: against real time, for shots in motion.
        enter: how it takes the place of the shot before; None for a cut.
        matched: what was made alike, in a comparison that asks for it.
    """

    id: str
    beat: str
    kind: str
    span: Span
    panes: tuple[Pane, ...]
    speed: Fraction | None = None
    enter: Entry | None = None
    matched: Matched | None = None

    def placement(self, pane: int, frame: int) -> Placement:
        """The placement of a pane on a frame of the segment."""
        return self.panes[pane].placement_at(frame - self.span.start)

    def resting(self, pane: int) -> Placement:
        """The placement of a pane on the shot's last frame, where it has come to rest."""
        return self.panes[pane].placement_at(self.span.frames - 1)
