"""Colours of the shipped look: contrast by WCAG, roles apart for all eyes."""

from pathlib import Path

import numpy as np
import pytest

from segmentkit.render.contrast import contrast, over, worst_contrast
from segmentkit.storyboard.load_look import load_look, shipped_looks

LOOKS = {name: load_look(name, Path()) for name in shipped_looks()}
of_every_look = pytest.mark.parametrize("look", LOOKS.values(), ids=list(LOOKS))
WHITE, BLACK = (255, 255, 255), (0, 0, 0)


# Computed by the definitions of WCAG 2.2 (relative luminance with the break at 0.04045, and contrast ratio).
@pytest.mark.parametrize(
    ("first", "second", "ratio"),
    [
        (BLACK, WHITE, 21.0),
        ((0x77,) * 3, WHITE, 4.478),
        ((0x76,) * 3, WHITE, 4.542),
        ((0x94,) * 3, WHITE, 3.034),
        ((0x95,) * 3, WHITE, 2.995),
        ((0x59,) * 3, WHITE, 7.005),
        ((255, 0, 0), WHITE, 3.998),
        ((0, 0, 255), WHITE, 8.592),
        ((255, 255, 0), BLACK, 19.556),
        ((255, 255, 0), WHITE, 1.074),
        (WHITE, (0, 0x64, 0), 7.439),
        (WHITE, (0x80,) * 3, 3.949),
    ],
)
def test_contrast_meets_the_published_vectors(first, second, ratio):
    assert contrast(first, second) == pytest.approx(ratio, abs=1e-3)
    assert contrast(second, first) == contrast(first, second)


def test_what_shows_through_a_panel_lowers_its_contrast():
    assert over(BLACK, 0.5, WHITE) == (128, 128, 128)
    assert worst_contrast(WHITE, BLACK, 0.5) < contrast(WHITE, BLACK)


@of_every_look
def test_all_text_of_a_look_has_contrast_on_its_panel(look):
    colours, opacity = look.palette, look.panel_opacity
    for ink in (colours.ink, colours.quiet, colours.accent):
        assert worst_contrast(ink, colours.ground, opacity) >= 4.5
    assert contrast(colours.caution_ink, colours.caution) >= 4.5
    assert contrast(colours.paper_ink, colours.paper) >= 4.5
    assert contrast(colours.label_ink, colours.label) >= 4.5


# Machado, Oliveira and Fernandes 2009, "A Physiologically-based Model for Simulation of Color Vision Deficiency",
# severity 1.0, for linear RGB.
SIMULATIONS = {
    "normal": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def seen(colour, matrix):
    """A colour in CIE L*a*b* as an eye of that kind sees it."""
    part = np.array(colour) / 255
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    linear = np.clip(np.array(matrix) @ linear, 0, 1)
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ linear / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eye", list(SIMULATIONS))
@of_every_look
def test_roles_stay_apart_for_every_eye(look, eye):
    strokes = look.strokes
    colours = [seen(role.colour, SIMULATIONS[eye]) for role in (strokes.reference, strokes.fault, strokes.good)]
    gaps = [float(np.linalg.norm(a - b)) for k, a in enumerate(colours) for b in colours[:k]]
    assert min(gaps) >= 30


@of_every_look
def test_roles_also_differ_by_their_line(look):
    strokes = look.strokes
    assert len({strokes.reference.line, strokes.fault.line, strokes.good.line}) == 3


@of_every_look
def test_every_role_stands_out_from_its_own_edge(look):
    strokes = look.strokes
    for role in (strokes.reference, strokes.fault, strokes.good):
        assert contrast(role.colour, strokes.edge_colour) >= 5


@of_every_look
@pytest.mark.parametrize("eye", list(SIMULATIONS))
def test_a_caution_looks_like_nothing_else_to_any_eye(look, eye):
    colours = look.palette
    caution = seen(colours.caution, SIMULATIONS[eye])
    # It also has a sign of its own, and a disclosure none.
    for other, apart in ((colours.ground, 30), (colours.ground_light, 30), (colours.paper, 20)):
        assert np.linalg.norm(caution - seen(other, SIMULATIONS[eye])) >= apart


def test_looks_differ_in_type_ground_and_accent():
    looks = list(LOOKS.values())
    assert len(looks) >= 3
    assert len({look.character for look in looks}) == len({look.type.folder for look in looks}) == len(looks)
    normal = SIMULATIONS["normal"]
    for k, one in enumerate(looks):
        for other in looks[:k]:
            for part in ("ground", "accent"):
                first, second = getattr(one.palette, part), getattr(other.palette, part)
                assert np.linalg.norm(seen(first, normal) - seen(second, normal)) >= 25, (one.name, other.name, part)
