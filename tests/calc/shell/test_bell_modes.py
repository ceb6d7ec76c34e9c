"""What must hold of any bell's modes: rigid motions, scaling, convergence, pairing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kitwright.calc.shell.bell_lines import Spacing, lines_of
from kitwright.calc.shell.bell_modes import USUAL, Modes, bell_modes
from kitwright.calc.shell.bell_shape import BellShape, Flange, Opening, Ribs, cone
from kitwright.calc.shell.bell_skin import skin
from kitwright.calc.shell.bricks import Isotropic, assemble
from kitwright.calc.shell.materials import METALS
from kitwright.calc.shell.mode_errors import frequency_errors
from kitwright.calc.shell.mode_kinds import alike, mode_kinds
from kitwright.calc.shell.mode_pairs import pair_modes
from kitwright.errors import InputError

STEEL = Isotropic(e_gpa=210, nu=0.3, density_kg_m3=7850)
COARSE = Spacing(round_deg=20, along_share=0.2, corner_share=1.0)
BELL: dict[str, Any] = {
    "outline_mm": ((0, 205), (170, 120)),
    "wall_mm": 6,
    "front": Flange(outer_radius_mm=222, thickness_mm=12),
    "rear": Flange(outer_radius_mm=150, thickness_mm=14, inner_radius_mm=85),
}
CUT = (Opening(clock_deg=100, width_mm=80, from_mm=40, to_mm=110),)


@pytest.fixture(scope="module")
def plain() -> Modes:
    return bell_modes(cone(175, 100, 300, 4.8), STEEL, count=12, spacing=COARSE)


@pytest.fixture(scope="module")
def cut() -> Modes:
    return bell_modes(BellShape(**BELL, openings=CUT), STEEL, count=12, spacing=COARSE)


@pytest.fixture(scope="module")
def held() -> Modes:
    return bell_modes(
        cone(175, 100, 300, 4.8), STEEL, count=30, support="block face held", spacing=COARSE
    )


def test_a_free_bell_has_six_rigid_motions_and_no_more(plain: Modes, cut: Modes) -> None:
    for modes in (plain, cut):
        assert len(modes.still_hz) == 6
        assert modes.still_hz.max() < 1e-4 * modes.frequencies_hz[0]
        assert (np.diff(modes.frequencies_hz) >= -1e-9).all()


def test_shapes_are_orthogonal_and_of_unit_generalised_mass(cut: Modes) -> None:
    mesh = cut.mesh
    body = assemble(mesh.points_mm / 1e3, mesh.elements, STEEL, alone=mesh.alone)
    flat = cut.shapes.reshape(len(cut.shapes), -1)
    np.testing.assert_allclose(flat @ (body.mass @ flat.T), np.eye(len(flat)), atol=1e-9)
    squares = (2 * math.pi * cut.frequencies_hz) ** 2
    stored = flat @ (body.stiffness @ flat.T)
    np.testing.assert_allclose(stored, np.diag(squares), atol=1e-7 * squares[-1])
    for axis in range(3):  # a free bell's centre of mass stays where it is
        push = np.tile(np.eye(3)[axis], len(mesh.points_mm))
        assert abs(flat @ (body.mass @ push)).max() < 1e-6


def test_a_round_bell_has_its_waves_in_pairs(plain: Modes) -> None:
    np.testing.assert_allclose(plain.frequencies_hz[::2], plain.frequencies_hz[1::2], rtol=1e-6)
    assert [kind.nodal_diameters for kind in plain.kinds[:8:2]] == [2, 2, 3, 4]
    assert all(kind.kind == "wall" and kind.share > 0.999 for kind in plain.kinds[:8])
    assert plain.kinds[0].nodal_circles == 0
    assert plain.kinds[2].nodal_circles == 1


@pytest.mark.parametrize(
    ("waves", "beside", "kind"),
    [(2, 3, "wall"), (0, 2, "breathing"), (1, 4, "bending"), (3, 0, "wall"), (5, 1, "wall")],
)
def test_a_known_mixture_is_taken_apart(plain: Modes, waves: int, beside: int, kind: str) -> None:
    """Motion along the radius, cos(n t) and some of another wave: shares as their mean squares."""
    x, y, _ = plain.mesh.points_mm.T
    turn = np.arctan2(x, y)
    radial = np.column_stack([np.sin(turn), np.cos(turn), np.zeros_like(turn)])
    out = np.cos(waves * turn + 0.4) / math.sqrt(1 + (waves == 0)) / (1 if waves else math.cos(0.4))
    aside = (
        np.cos(beside * turn - 1) / math.sqrt(1 + (beside == 0)) / (1 if beside else math.cos(1))
    )
    (found,) = mode_kinds(plain.mesh, (out + 0.5 * aside)[None, :, None] * radial[None])
    assert found.nodal_diameters == waves
    assert found.kind == kind
    assert found.nodal_circles == 0
    assert found.share == pytest.approx(1 / 1.25, rel=1e-3)
    third = np.cos(7 * turn)
    mixed = out + 0.9 * aside + 0.9 * third
    (found,) = mode_kinds(plain.mesh, mixed[None, :, None] * radial[None])
    assert (found.kind, found.nodal_diameters) == ("mixed", waves)


def test_how_a_mode_moves_names_it(plain: Modes) -> None:
    """Round the bell, along the crank, and changing sign half way along."""
    x, y, z = plain.mesh.points_mm.T
    turn = np.arctan2(x, y)
    zero = np.zeros_like(turn)
    twist = np.column_stack([np.cos(turn), -np.sin(turn), zero])
    along = np.column_stack([zero, zero, z - 150])
    torsion, axial = mode_kinds(plain.mesh, np.stack([twist, along]))
    assert (torsion.kind, torsion.nodal_diameters, torsion.nodal_circles) == ("torsion", 0, 0)
    assert (axial.kind, axial.nodal_diameters, axial.nodal_circles) == ("axial", 0, 1)


def test_pitch_goes_with_the_root_of_stiffness_over_density(plain: Modes) -> None:
    softer = replace(STEEL, e_gpa=STEEL.e_gpa / 3, density_kg_m3=STEEL.density_kg_m3 / 2)
    other = bell_modes(plain.shape, softer, count=12, spacing=COARSE)
    np.testing.assert_allclose(
        other.frequencies_hz, plain.frequencies_hz * math.sqrt(2 / 3), rtol=1e-7
    )
    assert other.mass_kg == pytest.approx(plain.mass_kg / 2)


def test_pitch_goes_with_one_over_size(plain: Modes) -> None:
    half = bell_modes(cone(87.5, 50, 150, 2.4), STEEL, count=12, spacing=COARSE)
    np.testing.assert_allclose(half.frequencies_hz, 2 * plain.frequencies_hz, rtol=1e-7)
    assert half.mass_kg == pytest.approx(plain.mass_kg / 8)


def test_a_turned_bell_rings_the_same(cut: Modes) -> None:
    turned = BellShape(**BELL, openings=(replace(CUT[0], clock_deg=100 + 137),))
    other = bell_modes(turned, STEEL, count=12, spacing=COARSE)
    np.testing.assert_allclose(other.frequencies_hz, cut.frequencies_hz, rtol=1e-6)
    one, two = cut.at(75, 160), other.at(75, 160 + 137)
    np.testing.assert_allclose(np.linalg.norm(one, axis=1), np.linalg.norm(two, axis=1), rtol=1e-4)


def test_the_same_case_gives_the_same_bits(cut: Modes) -> None:
    again = bell_modes(cut.shape, STEEL, count=12, spacing=COARSE)
    assert (again.frequencies_hz == cut.frequencies_hz).all()
    assert (again.shapes == cut.shapes).all()


def test_frequencies_converge_from_above_by_the_third_power_or_better() -> None:
    shape = cone(175, 100, 300, 4.8)
    n = np.array([24, 36, 54])
    hz = np.array(
        [
            bell_modes(
                shape, STEEL, count=3, spacing=Spacing(round_deg=360 / k, along_share=4 / k,
                                                       corner_share=0.5)
            ).frequencies_hz[[0, 2]]
            for k in n
        ]
    )  # fmt: skip
    first, second = hz[0] - hz[1], hz[1] - hz[2]
    assert (first > 0).all()
    assert (second > 0).all()
    assert (np.log(first / second) / math.log(1.5) > 3).all()


def test_the_estimated_error_covers_the_true_one() -> None:
    """A bell with flanges and an opening, on a mesh coarser than any the worksheet offers."""
    shape = BellShape(**BELL, openings=CUT)
    coarse, coarser, usual = (
        bell_modes(shape, STEEL, count=6, spacing=USUAL.finer(by)) for by in (0.5, 0.5 / 1.6, 0.8)
    )
    estimate = frequency_errors(coarser, coarse)
    true = coarse.frequencies_hz / usual.frequencies_hz - 1
    assert (true > 0).all()
    assert (estimate > true).all()
    assert (estimate < 5e-2).all()
    with pytest.raises(InputError, match="mesh: the edges leave none that is coarser"):
        frequency_errors(coarse, coarse)


def test_the_estimated_error_knows_how_much_finer_the_mesh_came_out() -> None:
    """Twelve ribs: their edges are the grid's lines round the bell, however coarse it may be."""
    shape = BellShape(**BELL, ribs=(Ribs(count=12, height_mm=10, width_mm=12),))
    wanted = Spacing(round_deg=25, along_share=0.2, corner_share=1.0)
    fine = Spacing(round_deg=9, along_share=0.15, corner_share=0.6)
    coarse, coarser, finer = (
        bell_modes(shape, STEEL, count=2, spacing=each)
        for each in (wanted, wanted.finer(1 / 1.6), fine)
    )
    rounds = {len(each.mesh.lines.round_rad) for each in (coarse, coarser)}
    assert rounds == {36}  # one element across a rib, two across a gap
    true = coarse.frequencies_hz / finer.frequencies_hz - 1
    assert (true > 0).all()
    assert (frequency_errors(coarser, coarse) > true).all()


def test_modes_that_change_places_are_compared_by_shape() -> None:
    """Thirty modes of a bell with flanges: on the coarser mesh several stand in another order, and
    by order the error of two comes out far too small."""
    shape, coarse = BellShape(**BELL), USUAL.finer(0.45)
    found = bell_modes(shape, STEEL, count=30, spacing=coarse)
    coarser = bell_modes(shape, STEEL, count=36, spacing=coarse.finer(1 / 1.6))
    near = bell_modes(shape, STEEL, count=34, spacing=coarse.finer(1.4))
    pairs = [(i, j) for i, j in enumerate(pair_modes(found, near).after) if j is not None]
    mine, there = np.array(pairs).T
    assert len(mine) >= 28
    true = found.frequencies_hz[mine] / near.frequencies_hz[there] - 1
    estimate = frequency_errors(coarser, found)[mine]
    assert (abs(estimate) > abs(true)).all()
    by_order = coarser.frequencies_hz[mine] / found.frequencies_hz[mine] - 1
    assert (by_order / estimate < 0.4).any()
    looks = [(found.kinds[i].look, near.kinds[j].look) for i, j in pairs]
    assert all(one == other for one, other in looks)


def test_effective_masses_add_up_to_what_can_move(held: Modes) -> None:
    """Along each axis the modes' masses rise toward the whole, and never above it."""
    total = held.effective_masses_kg.sum(axis=0)
    assert (total < held.mass_kg).all()
    assert (total[:2] > 0.7 * held.mass_kg).all()
    x, y = held.effective_masses_kg[:, 0], held.effective_masses_kg[:, 1]
    assert x.sum() == pytest.approx(y.sum(), rel=1e-6)  # a round bell
    waves = [kind.nodal_diameters for kind in held.kinds]
    for mode, n in enumerate(waves):
        if n != 1:
            assert max(x[mode], y[mode]) < 1e-6 * held.mass_kg
        if n != 0:
            assert held.effective_masses_kg[mode, 2] < 1e-6 * held.mass_kg


def test_a_held_face_does_not_move(held: Modes) -> None:
    assert (held.shapes[:, held.mesh.block_face] == 0).all()
    assert held.still_hz.size == 0
    np.testing.assert_allclose(held.at(0, 33), 0, atol=1e-12)


def test_motion_at_a_node_is_that_nodes(cut: Modes) -> None:
    mesh = cut.mesh
    for node in np.unique(mesh.elements[mesh.outermost[mesh.outermost >= 0]])[::7]:
        x, y, z = mesh.points_mm[node]
        at = cut.place_mm(z, math.degrees(math.atan2(x, y)))
        # where the block face's flange stands over the wall, the outside is the flange's rim
        if np.allclose(at, mesh.points_mm[node], atol=0.05):
            np.testing.assert_allclose(
                cut.at(z, math.degrees(math.atan2(x, y))), cut.shapes[:, node], atol=1e-3
            )
            break
    else:
        raise AssertionError("no node of the outside was found by its place")


def test_a_place_on_the_outside(cut: Modes) -> None:
    wall = cut.shape.wall
    for z, clock in ((60, 0), (90, 211.5), (130, 300)):
        x, y, there = cut.place_mm(z, clock)
        assert there == pytest.approx(z, abs=1e-6)
        slope = math.hypot(1, 85 / 170)
        middle = float(np.interp(z, *wall.corners.T))
        assert math.hypot(x, y) == pytest.approx(middle + 3 * slope, rel=1e-3)
        away = math.degrees(math.atan2(x, y)) - clock
        assert (away + 180) % 360 - 180 == pytest.approx(0, abs=0.05)


def test_the_motion_between_nodes_is_smooth(plain: Modes) -> None:
    """Going round a wave with two nodal diameters, the motion out and in is a pure cosine."""
    turn = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    out = np.array([plain.at(20, math.degrees(t))[0] @ [math.sin(t), math.cos(t), 0] for t in turn])
    spectrum = abs(np.fft.rfft(out))
    assert spectrum.argmax() == 2
    assert np.delete(spectrum, 2).max() < 0.01 * spectrum[2]


@pytest.mark.parametrize(
    ("z", "clock", "words"),
    [(-1, 0, "-1 mm is not on the bell"), (171, 0, "from 0 to 170 mm"), (75, 100, "an opening")],
)
def test_strikes_beside_the_bell(cut: Modes, z: float, clock: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        cut.at(z, clock)


@pytest.mark.parametrize("count", [0, 81])
def test_counts_that_cannot_be(count: int) -> None:
    with pytest.raises(InputError, match="count"):
        bell_modes(cone(175, 100, 300, 4.8), STEEL, count=count, spacing=COARSE)


def test_more_modes_than_the_mesh_can_carry() -> None:
    rough = Spacing(round_deg=120, along_share=1, corner_share=1)
    with pytest.raises(InputError, match="ask for fewer"):
        bell_modes(cone(175, 100, 300, 4.8), STEEL, count=40, spacing=rough)


# ── which is which after a change ─────────────────────────────────────────────────────────


def test_a_stiffer_metal_pairs_every_mode_with_itself(cut: Modes) -> None:
    stiffer = bell_modes(cut.shape, replace(STEEL, e_gpa=230), count=14, spacing=COARSE)
    pairing = pair_modes(cut, stiffer)
    assert pairing.after == tuple(range(12))
    assert min(value for value in pairing.alike if value is not None) > 0.999999


def test_a_round_bell_with_ribs_keeps_its_pairs() -> None:
    """The two of a pair may turn round the bell: they are compared with both together."""
    bare = BellShape(**BELL)
    ribbed = BellShape(**BELL, ribs=(Ribs(count=5, height_mm=10, width_mm=8, clock_deg=7),))
    lines = lines_of([bare, ribbed], COARSE)
    before = bell_modes(bare, STEEL, count=6, lines=lines)
    after = bell_modes(ribbed, STEEL, count=10, lines=lines)
    pairing = pair_modes(before, after)
    assert None not in pairing.after
    assert len(set(pairing.after)) == 6
    assert all(value is not None and 0.95 < value <= 1 for value in pairing.alike)
    for i, column in enumerate(pairing.after):
        assert column is not None
        assert before.kinds[i].nodal_diameters == after.kinds[column].nodal_diameters


def test_a_longer_bell_is_paired_by_its_looks(plain: Modes) -> None:
    longer = bell_modes(cone(175, 100, 330, 4.8), STEEL, count=16, spacing=COARSE)
    pairing = pair_modes(plain, longer)
    assert pairing.alike == (None,) * 12
    for i, column in enumerate(pairing.after):
        if column is not None:
            assert plain.kinds[i].look == longer.kinds[column].look
    assert pairing.after[:4] == (0, 1, 2, 3)
    used = [column for column in pairing.after if column is not None]
    assert len(used) == len(set(used))


def test_likeness_knows_no_size_and_no_sign() -> None:
    rng = np.random.default_rng(3)
    shape = rng.normal(size=(1, 9, 3))
    assert alike(shape, -3 * shape)[0, 0] == pytest.approx(1)
    across = rng.normal(size=(1, 9, 3))
    across -= (across * shape).sum() / (shape**2).sum() * shape
    assert alike(shape, across)[0, 0] == pytest.approx(0, abs=1e-12)


# ── the surface to draw ───────────────────────────────────────────────────────────────────


def test_the_skin_is_closed_and_faces_outward(cut: Modes) -> None:
    """Each edge is met once in each direction; the volume inside is the bell's."""
    surface = skin(cut, along=100, round_it=1000)
    edges = [(int(face[i]), int(face[(i + 1) % 4])) for face in surface.faces for i in range(4)]
    assert len(set(edges)) == len(edges)
    assert {(b, a) for a, b in edges} == set(edges)
    corners = surface.points_mm[surface.faces]
    inside = sum(
        np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, i], corners[:, i + 1]))
        for i in (1, 2)
    ) / 6  # fmt: skip
    assert inside == pytest.approx(cut.mass_kg / 7850 * 1e9, rel=0.03)  # straight between lines


def test_a_coarse_skin_keeps_every_edge_of_the_shape(cut: Modes) -> None:
    surface = skin(cut)
    whole = skin(cut, along=100, round_it=1000)
    assert len(surface.faces) < len(whole.faces)
    for z in (0, 12, 40, 110, 156, 170):
        assert abs(surface.points_mm[:, 2] - z).min() < 1.5
    largest = np.sqrt((surface.moves**2).sum(axis=2)).max(axis=1)
    np.testing.assert_allclose(largest, 1)


def test_the_metals_are_metals() -> None:
    assert METALS["aluminium A380"].elastic.density_kg_m3 == 2710
    assert METALS["grey iron"].elastic.nu == 0.211
    for metal in METALS.values():
        speed = metal.elastic.bar_speed_m_s
        assert 3500 < speed < 5400
        assert metal.source


def test_wide_ribs_are_not_one_element_wide():
    """A tube whose ribs and gaps are six walls wide, on a coarse mesh: within 0.6 % of one three
    times as fine. With one element across each, pitches were 1.5 % too low or 2.7 % too high."""
    ribs = (Ribs(count=12, height_mm=12, width_mm=26),)
    tube = BellShape(outline_mm=((0, 100), (300, 100)), wall_mm=4, ribs=ribs)
    coarse = bell_modes(tube, STEEL, count=6, spacing=COARSE).frequencies_hz
    finer = Spacing(round_deg=6, along_share=0.1, corner_share=0.5)
    fine = bell_modes(tube, STEEL, count=6, spacing=finer).frequencies_hz
    np.testing.assert_allclose(coarse, fine, rtol=0.006)
