"""Bricks against theory: exact fields, rigid motions, and another library's assembly."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.linalg import eigh
from skfem import Basis, ElementHexS2, ElementVector, MeshHex
from skfem.models.elasticity import lame_parameters, linear_elasticity

from kitwright.calc.shell.bricks import OFFSETS, Isotropic, assemble, shape_functions
from kitwright.errors import InputError

METAL = Isotropic(e_gpa=200, nu=0.3, density_kg_m3=8000)
CORNERS = [i for i, place in enumerate(OFFSETS.tolist()) if 1 not in place]


@pytest.fixture
def block() -> tuple[np.ndarray, np.ndarray]:
    """Two by two by one bricks, the corners pushed about, the middles of edges half way between."""
    lines = (5, 5, 3)
    cells = np.argwhere(np.ones((2, 2, 1), dtype=bool))
    places = 2 * cells[:, None] + OFFSETS[None]
    used, elements = np.unique(
        np.ravel_multi_index(tuple(places.reshape(-1, 3).T), lines), return_inverse=True
    )
    grid = np.array(np.unravel_index(used, lines)).T
    rng = np.random.default_rng(5)
    corner = {tuple(2 * np.array(c)): np.array(c) + rng.uniform(-0.12, 0.12, 3)
              for c in itertools.product(range(3), range(3), range(2))}  # fmt: skip
    points = np.array(
        [
            np.mean(
                [
                    corner[(a, b, c)]
                    for a in {x - x % 2, x + x % 2}
                    for b in {y - y % 2, y + y % 2}
                    for c in {z - z % 2, z + z % 2}
                ],
                axis=0,
            )
            for x, y, z in grid.tolist()
        ]
    )
    return points, elements.reshape(-1, 20)


def test_shape_functions_are_one_at_home_and_reproduce_squares() -> None:
    at_nodes = shape_functions(OFFSETS - 1.0)[0]
    np.testing.assert_allclose(at_nodes, np.eye(20), atol=1e-14)
    rng = np.random.default_rng(1)
    place = rng.uniform(-1, 1, (40, 3))
    values, slopes = shape_functions(place)
    np.testing.assert_allclose(values.sum(axis=1), 1, atol=1e-14)
    nodes = OFFSETS - 1.0
    for i, j in itertools.combinations_with_replacement(range(3), 2):
        np.testing.assert_allclose(values @ (nodes[:, i] * nodes[:, j]), place[:, i] * place[:, j],
                                   atol=1e-13)  # fmt: skip
    step = 1e-6
    for axis in range(3):
        aside = np.eye(3)[axis] * step
        numeric = (shape_functions(place + aside)[0] - shape_functions(place - aside)[0]) / (
            2 * step
        )
        np.testing.assert_allclose(slopes[:, axis], numeric, atol=1e-8)


@pytest.mark.parametrize("alone", [False, True])
def test_a_uniform_strain_stores_its_exact_energy(
    block: tuple[np.ndarray, np.ndarray], alone: bool
) -> None:
    """The patch test: any linear motion, on bricks pushed out of square, is exact."""
    points, elements = block
    body = assemble(points, elements, METAL, alone=np.full(len(elements), alone))
    volume = body.mass_kg / METAL.density_kg_m3
    rng = np.random.default_rng(2)
    slope = rng.normal(size=(3, 3)) * 1e-3
    moved = (points @ slope.T).ravel()
    even = (slope + slope.T) / 2
    strain = np.array([*np.diag(even), 2 * even[0, 1], 2 * even[1, 2], 2 * even[2, 0]])
    energy = volume * strain @ METAL.stiffness_pa() @ strain
    assert moved @ body.stiffness @ moved == pytest.approx(energy, rel=1e-11)
    force = (body.stiffness @ moved).reshape(-1, 3)
    _, inside, _ = np.flatnonzero(np.bincount(elements.ravel()) == 4)  # the others have air beside
    np.testing.assert_allclose(force[inside], 0, atol=1e-9 * abs(force).max())


def test_mass_and_rigid_motions(block: tuple[np.ndarray, np.ndarray]) -> None:
    points, elements = block
    body = assemble(points, elements, METAL)
    x, y, z = points.T
    zero, one = np.zeros_like(x), np.ones_like(x)
    rigid = [(one, zero, zero), (zero, one, zero), (zero, zero, one),
             (-y, x, zero), (zero, -z, y), (z, zero, -x)]  # fmt: skip
    motions = np.array([np.column_stack(motion).ravel() for motion in rigid])
    assert abs(body.stiffness @ motions.T).max() < 1e-9 * abs(body.stiffness).max()
    for motion in motions[:3]:
        assert motion @ body.mass @ motion == pytest.approx(body.mass_kg, rel=1e-13)
    stiffness = body.stiffness.toarray()
    np.testing.assert_allclose(stiffness, stiffness.T, atol=1e-9 * abs(stiffness).max())
    values = np.linalg.eigvalsh(stiffness)
    assert (values < 1e-9 * values[-1]).sum() == 6


@pytest.mark.parametrize(("cells", "alone"), [((3, 1, 1), True), ((3, 2, 1), False)])
def test_a_row_of_single_bricks_needs_all_its_points(
    cells: tuple[int, int, int], alone: bool
) -> None:
    """Six motions without strain and no more; with eight points a row of bricks has others."""
    lines = tuple(2 * n + 1 for n in cells)
    places = 2 * np.argwhere(np.ones(cells, dtype=bool))[:, None] + OFFSETS[None]
    used, elements = np.unique(
        np.ravel_multi_index(tuple(places.reshape(-1, 3).T), lines), return_inverse=True
    )
    points = np.array(np.unravel_index(used, lines)).T / 2.0
    elements = elements.reshape(-1, 20)

    def still(mask: np.ndarray) -> int:
        values = np.linalg.eigvalsh(assemble(points, elements, METAL, alone=mask)
                                    .stiffness.toarray())  # fmt: skip
        return int((values < 1e-9 * values[-1]).sum())

    assert still(np.full(len(elements), alone)) == 6
    assert (still(np.zeros(len(elements), dtype=bool)) == 6) is not alone


def test_another_library_assembles_the_same(block: tuple[np.ndarray, np.ndarray]) -> None:
    """scikit-fem's serendipity hexahedron with the same rule: the same eigenvalues."""
    points, elements = block
    body = assemble(points, elements, METAL)
    order = [OFFSETS.tolist().index([2 * a, 2 * b, 2 * c])
             for a, b, c in [(1, 1, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1),
                             (1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 0, 0)]]  # fmt: skip
    corners = elements[:, order]
    used, numbered = np.unique(corners, return_inverse=True)
    other = MeshHex(points[used].T, numbered.reshape(-1, 8).T)
    basis = Basis(other, ElementVector(ElementHexS2()), intorder=3)
    law = linear_elasticity(*lame_parameters(METAL.e_gpa * 1e9, METAL.nu))
    theirs = eigh(law.assemble(basis).toarray(), eigvals_only=True)
    ours = eigh(body.stiffness.toarray(), eigvals_only=True)
    np.testing.assert_allclose(ours[6:], theirs[6:], rtol=1e-9)


def test_what_cannot_be_is_refused(block: tuple[np.ndarray, np.ndarray]) -> None:
    points, elements = block
    with pytest.raises(InputError, match="folded"):
        assemble(points * [1, 1, -1], elements, METAL)
    for changed, words in (({"nu": 0.5}, "nu"), ({"e_gpa": 0}, "e:"),
                           ({"density_kg_m3": -1}, "density")):  # fmt: skip
        with pytest.raises(InputError, match=words):
            Isotropic(**{"e_gpa": 70, "nu": 0.3, "density_kg_m3": 2700, **changed})
