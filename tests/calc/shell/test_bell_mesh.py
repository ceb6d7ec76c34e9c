"""The bell's shape and its mesh: volumes in closed form, and every shape that cannot be."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.calc.shell.bell_lines import Spacing, lines_of
from kitwright.calc.shell.bell_mesh import BellMesh, mesh
from kitwright.calc.shell.bell_modes import USUAL
from kitwright.calc.shell.bell_shape import BellShape, Flange, Opening, Pad, Ribs, cone
from kitwright.calc.shell.bricks import Isotropic, assemble
from kitwright.errors import InputError

COARSE = Spacing(round_deg=20, along_share=0.2, corner_share=1.0)
ALUMINIUM = Isotropic(e_gpa=72.4, nu=0.33, density_kg_m3=2680)
PLAIN: dict[str, Any] = {
    "outline_mm": ((0, 205), (170, 120)),
    "wall_mm": 6,
    "front": Flange(outer_radius_mm=222, thickness_mm=12),
    "rear": Flange(outer_radius_mm=150, thickness_mm=14, inner_radius_mm=85),
}


def meshed(shape: BellShape, spacing: Spacing = COARSE) -> BellMesh:
    return mesh(shape, lines_of([shape], spacing))


def volume_mm3(shape: BellShape, spacing: Spacing = COARSE) -> float:
    found = meshed(shape, spacing)
    body = assemble(found.points_mm / 1e3, found.elements, ALUMINIUM, alone=found.alone)
    return body.mass_kg / ALUMINIUM.density_kg_m3 * 1e9


def turned(z: list[float], radius: list[float]) -> float:
    """Volume of a polygon turned round the crank axis (Guldin), by its corners."""
    total = 0.0
    for i in range(len(z)):
        a, b = (z[i], radius[i]), (z[(i + 1) % len(z)], radius[(i + 1) % len(z)])
        total += (b[0] - a[0]) * (a[1] ** 2 + a[1] * b[1] + b[1] ** 2) / 3
    return math.pi * abs(total)


@given(
    front=st.floats(60, 300),
    rear=st.floats(60, 300),
    length=st.floats(40, 400),
    wall=st.floats(2, 20),
)
@settings(max_examples=25)
def test_a_plain_cone_has_its_closed_volume(
    front: float, rear: float, length: float, wall: float
) -> None:
    slant = math.hypot(length, front - rear)
    if wall * slant / length > min(front, rear):
        return  # the wall would meet the axis
    exact = 2 * math.pi * (front + rear) / 2 * slant * wall
    assert volume_mm3(cone(front, rear, length, wall)) == pytest.approx(exact, rel=2e-4)


def test_a_wall_that_grows_has_its_closed_volume() -> None:
    shape = BellShape(outline_mm=((0, 100), (80, 100)), wall_mm=4, wall_rear_mm=10)
    exact = turned([0, 80, 80, 0], [102, 105, 95, 98])
    assert volume_mm3(shape) == pytest.approx(exact, rel=2e-4)


def test_flanges_are_added_to_the_wall() -> None:
    slope = (120 - 205) / 170
    half = 3 * math.hypot(1, slope)  # along the radius

    def outer(z: float) -> float:
        return 205 + slope * z + half

    def inner(z: float) -> float:
        return 205 + slope * z - half

    exact = turned([0, 170, 170, 0], [outer(0), outer(170), inner(170), inner(0)])
    exact += turned([0, 12, 12, 0], [222, 222, outer(12), outer(0)])
    exact += turned([156, 170, 170, 156], [150, 150, outer(170), outer(156)])
    exact += turned([156, 170, 170, 156], [inner(156), inner(170), 85, 85])
    assert volume_mm3(BellShape(**PLAIN)) == pytest.approx(exact, rel=5e-4)


def test_parts_add_and_take_their_volume() -> None:
    whole = volume_mm3(BellShape(**PLAIN))
    radius, slant = 205 - 85 * 84 / 170, math.hypot(1, 85 / 170)
    ribs = Ribs(count=6, height_mm=10, width_mm=8, clock_deg=15)
    added = volume_mm3(BellShape(**PLAIN, ribs=(ribs,))) - whole
    # 144 mm along z between the flanges; a rib is wider further out
    assert added == pytest.approx(6 * 8 * 10 * 144 * slant * (1 + 8 / radius), rel=0.02)
    opening = Opening(clock_deg=90, width_mm=60, from_mm=50, to_mm=100)
    taken = whole - volume_mm3(BellShape(**PLAIN, openings=(opening,)))
    assert taken == pytest.approx(60 * 6 * 50 * slant, rel=0.01)
    pad = Pad(clock_deg=200, width_mm=60, from_mm=50, to_mm=100, thicker_by_mm=4)
    added = volume_mm3(BellShape(**PLAIN, pads=(pad,))) - whole
    middle = 205 - 85 * 75 / 170
    assert added == pytest.approx(60 * 4 * 50 * slant * (1 + 5 / slant / middle), rel=0.01)
    thin = Pad(from_mm=50, to_mm=100, thicker_by_mm=-2)
    taken = whole - volume_mm3(BellShape(**PLAIN, pads=(thin,)))
    exact = 2 * math.pi * (middle + 2 / slant) * 2 * 50 * slant
    assert taken == pytest.approx(exact, rel=0.01)


def test_a_step_and_a_bend_keep_their_thickness() -> None:
    """A wall that steps in through a flat ring: each piece by itself, mitred where they meet."""
    shape = BellShape(outline_mm=((0, 100), (60, 100), (60, 70), (120, 70)), wall_mm=6)
    exact = turned(
        [0, 63, 63, 120, 120, 57, 57, 0],
        [103, 103, 73, 73, 67, 67, 97, 97],
    )
    assert volume_mm3(shape) == pytest.approx(exact, rel=5e-4)


def test_every_edge_has_its_line_and_every_face_its_nodes() -> None:
    opening = Opening(clock_deg=350, width_mm=80, from_mm=40, to_mm=100)
    shape = BellShape(**PLAIN, openings=(opening,))
    found = meshed(shape)
    z = shape.wall.places(found.lines.along_mm)[:, 0]
    for edge in (0, 12, 40, 100, 156, 170):
        assert abs(z - edge).min() < 1e-9
    face = found.points_mm[found.block_face]
    assert abs(face[:, 2]).max() < 1e-9
    assert np.hypot(face[:, 0], face[:, 1]).max() == pytest.approx(222)
    rear = found.points_mm[abs(found.points_mm[:, 2] - 170) < 1e-9]
    radius = np.hypot(rear[:, 0], rear[:, 1])
    assert radius.max() == pytest.approx(150)
    assert radius.min() == pytest.approx(85)
    assert (found.outermost < 0).any()  # over the opening
    assert not found.alone.any()


def test_two_bells_share_their_lines() -> None:
    plain = BellShape(**PLAIN)
    ribbed = BellShape(**PLAIN, ribs=(Ribs(count=5, height_mm=8, width_mm=9),))
    lines = lines_of([plain, ribbed], COARSE)
    one, other = mesh(plain, lines), mesh(ribbed, lines)
    assert one.node_at.shape[:2] == other.node_at.shape[:2]
    inside = [m.points_mm[m.node_at[::2, ::2, m.inside]] for m in (one, other)]
    np.testing.assert_allclose(*inside, atol=1e-9)


def test_a_turned_bell_is_the_same_bell() -> None:
    """Whatever lies across twelve o'clock is cut out like anything else."""
    volumes = [
        volume_mm3(
            BellShape(
                **PLAIN,
                openings=(Opening(clock_deg=c, width_mm=80, from_mm=40, to_mm=100),),
                ribs=(Ribs(count=3, height_mm=8, width_mm=10, clock_deg=c + 60),),
            )
        )
        for c in (180, 0, 359, -721)
    ]
    np.testing.assert_allclose(volumes, volumes[0], rtol=2e-4)


def test_a_narrow_post_is_known_to_stand_alone() -> None:
    openings = tuple(
        Opening(clock_deg=c, width_mm=114, from_mm=20, to_mm=100) for c in range(0, 360, 60)
    )
    shape = BellShape(outline_mm=((0, 120), (120, 120)), wall_mm=5, openings=openings)
    found = meshed(shape, Spacing(round_deg=20, along_share=0.15, corner_share=1))
    z = found.points_mm[found.elements[found.alone]][..., 2]
    assert len(z)
    assert z.min() >= 20 - 1e-9
    assert z.max() <= 100 + 1e-9


def opened(**about: Any) -> Opening:
    return Opening(**{"clock_deg": 0, "width_mm": 50, "from_mm": 40, "to_mm": 90, **about})


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"wall_mm": 0}, "wall: 0 is not above zero"),
        ({"wall_rear_mm": -1}, "wall_rear: -1 is not above zero"),
        ({"outline_mm": ((0, 205),)}, "outline: 1 given"),
        ({"outline_mm": ((5, 205), (170, 120))}, "begins at z = 5"),
        ({"outline_mm": ((0, 205), (90, 150), (80, 120))}, "z goes back"),
        ({"outline_mm": ((0, 205), (170, 2))}, "meets the crank axis"),
        ({"outline_mm": ((0, 205), (0, 205), (170, 120))}, "two points in one place"),
        ({"outline_mm": ((0, 1e6), (170, 120))}, "more than 100 m"),
        ({"outline_mm": ((0, 205), (10, 300), (10.1, 150), (170, 120)), "front": None},
         "fold too sharp"),
        ({"front": Flange(outer_radius_mm=200, thickness_mm=12)}, "does not stand out"),
        ({"rear": Flange(outer_radius_mm=150, thickness_mm=14, inner_radius_mm=119)},
         "does not reach inside"),
        ({"front": Flange(outer_radius_mm=222, thickness_mm=160)}, "leave no wall"),
        ({"outline_mm": ((0, 100), (0, 205), (170, 120))}, "the wall is a disc there"),
        ({"openings": (opened(from_mm=5),)}, r"openings\[0\].from: 5 mm lies outside the wall"),
        ({"openings": (opened(to_mm=165),)}, r"openings\[0\].to: 165 mm lies outside the wall"),
        ({"openings": (opened(width_mm=2000),)}, r"openings\[0\].width: more than the way round"),
        ({"ribs": (Ribs(count=40, height_mm=5, width_mm=40),)}, "the ribs overlap"),
        ({"ribs": (Ribs(count=4, height_mm=5, width_mm=9, from_mm=1),)}, r"ribs\[0\].from"),
        ({"ribs": (Ribs(count=4, height_mm=5, width_mm=9, from_mm=90, to_mm=60),)}, "not behind"),
        ({"pads": (Pad(thicker_by_mm=-6, from_mm=40, to_mm=90),)}, "nothing of the wall is left"),
    ],
)  # fmt: skip
def test_shapes_that_cannot_be(changed: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        BellShape(**{**PLAIN, **changed})


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"openings": (opened(width_mm=2 * math.pi * 172.5),)}, "cut the bell into 2 pieces"),
        ({"wall_mm": 0.02, "wall_rear_mm": None}, "times as long as thick"),
        ({"outline_mm": ((0, 205), (9, 200), (11, 194), (170, 120)), "wall_mm": 40, "front": None},
         "folded"),
    ],
)  # fmt: skip
def test_solids_that_cannot_be(changed: dict[str, Any], words: str) -> None:
    shape = BellShape(**{**PLAIN, **changed})
    with pytest.raises(InputError, match=words):
        volume_mm3(shape)


def test_too_fine_a_mesh_is_refused() -> None:
    with pytest.raises(InputError, match="take a coarser mesh"):
        meshed(BellShape(**PLAIN), Spacing(round_deg=1, along_share=0.01, corner_share=0.1))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Flange(outer_radius_mm=-1, thickness_mm=3), "outer_radius"),
        (lambda: Flange(outer_radius_mm=9, thickness_mm=0), "thickness"),
        (lambda: Ribs(count=0, height_mm=1, width_mm=1), "0 ribs"),
        (lambda: Ribs(count=1, height_mm=0, width_mm=1), "height"),
        (lambda: opened(to_mm=40), "40 mm is not behind 40 mm"),
        (lambda: Pad(thicker_by_mm=0, from_mm=1, to_mm=2), "zero changes nothing"),
        (lambda: Pad(thicker_by_mm=1, from_mm=1, to_mm=2, width_mm=-3), "width"),
    ],
)
def test_parts_that_cannot_be(make: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        make()


def test_a_wall_just_too_thin_is_not_said_to_be_at_the_limit() -> None:
    """Its elements are 250.2 times as long as thick."""
    thin = cone(175, 100, 300, 0.3)
    with pytest.raises(InputError, match="251 times as long as thick, at most 250"):
        mesh(thin, lines_of([thin], USUAL.finer(0.45)))
