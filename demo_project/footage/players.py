"""The two players: build, clothes and the way they swing. All values here are invented."""

from __future__ import annotations

from dataclasses import dataclass, field

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Lengths in metres at scale 1, all multiplied by `scale`; a woman of 1.66 m at scale 1."""

    scale: float = 1.0
    thigh: float = 0.415
    shin: float = 0.400
    ankle: float = 0.085
    foot: float = 0.165
    hip_half: float = 0.088
    shoulder_half: float = 0.160
    upper_arm: float = 0.280
    forearm: float = 0.245
    palm: float = 0.072
    waist: float = 1.0
    hips: float = 1.0
    club: float = 0.925


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """Colours are linear-light reflectances (red, green, blue) from 0 to 1; hair is `bob` or `tail`."""

    skin: Colour
    shirt: Colour
    trousers: Colour
    shoes: Colour
    hair_colour: Colour
    cap: Colour
    belt: Colour
    glove: Colour
    hair: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a player differs from the common swing.

    Attributes:
        hips_off: metres toward the ball that the rearmost point of the hips has left its line at address, by position.
        bend: forward bend of the chest from upright, degrees, by position.
        dip: height of the middle of the pelvis over its height at address, metres, by position.
        heel_start: seconds before impact at which the trail heel begins to leave the ground.
        turn: factor on the turn of chest and pelvis in the backswing.
    """

    hips_off: dict[str, float]
    bend: dict[str, float]
    dip: dict[str, float]
    heel_start: float
    turn: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One invented person."""

    name: str
    build: Build
    dress: Dress
    habit: Habit = field()


VIEWER = Player(
    name="viewer",
    build=Build(scale=1.0, waist=1.09, hips=1.04),
    dress=Dress(
        skin=(0.50, 0.285, 0.20),
        shirt=(0.44, 0.060, 0.062),
        trousers=(0.085, 0.095, 0.13),
        shoes=(0.72, 0.72, 0.70),
        hair_colour=(0.11, 0.055, 0.03),
        cap=(0.80, 0.79, 0.76),
        belt=(0.10, 0.055, 0.03),
        glove=(0.82, 0.82, 0.80),
        hair="bob",
    ),
    habit=Habit(
        hips_off={
            "top": 0.006,
            "lead_arm_parallel_down": 0.062,
            "impact": 0.102,
            "shaft_parallel_through": 0.118,
            "finish": 0.15,
        },
        bend={
            "address": 37,
            "top": 37,
            "lead_arm_parallel_down": 32,
            "impact": 27,
            "shaft_parallel_through": 21,
            "lead_arm_parallel_through": 16,
            "finish": 1,
        },
        dip={
            "lead_arm_parallel_back": -0.009,
            "top": -0.009,
            "lead_arm_parallel_down": -0.004,
            "impact": 0.004,
            "finish": 0.036,
        },
        heel_start=0.10,
        turn=0.95,
    ),
)

MODEL = Player(
    name="model",
    build=Build(scale=1.025, waist=0.96, hips=0.97),
    dress=Dress(
        skin=(0.42, 0.235, 0.155),
        shirt=(0.045, 0.165, 0.30),
        trousers=(0.40, 0.355, 0.275),
        shoes=(0.16, 0.17, 0.19),
        hair_colour=(0.035, 0.022, 0.016),
        cap=(0.05, 0.10, 0.16),
        belt=(0.28, 0.15, 0.07),
        glove=(0.82, 0.82, 0.80),
        hair="tail",
    ),
    habit=Habit(
        hips_off={
            "top": 0.0,
            "lead_arm_parallel_down": 0.0,
            "impact": 0.004,
            "shaft_parallel_through": 0.020,
            "finish": 0.14,
        },
        bend={
            "address": 37,
            "top": 37,
            "lead_arm_parallel_down": 38.5,
            "impact": 38.5,
            "shaft_parallel_through": 31,
            "lead_arm_parallel_through": 25,
            "finish": 2,
        },
        dip={
            "lead_arm_parallel_back": -0.014,
            "top": -0.016,
            "lead_arm_parallel_down": -0.024,
            "impact": -0.006,
            "lead_arm_parallel_through": -0.006,
            "finish": 0.034,
        },
        heel_start=0.03,
    ),
)
