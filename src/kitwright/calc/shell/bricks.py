"""Solid elements with 20 nodes: stiffness and mass of a body of one isotropic material.

An element's nodes lie on the grid {0, 1, 2}³ where at most one of the three numbers is 1 (corners
and middles of edges), in the order of `OFFSETS`. Stiffness is summed over 2 x 2 x 2 Gauss points,
not 3 x 3 x 3: with all points a thin curved wall comes out far too stiff (membrane locking), with
these eight it does not [1]_. Mass is summed over 3 x 3 x 3 points.

Eight points do not see six motions of an element that stands alone. Two elements side by side hold
one another; a row of single elements does not, and such elements need all 27 points.

References
----------
.. [1] O. C. Zienkiewicz, R. L. Taylor, J. M. Too, Int. J. Numer. Methods Eng. 3 (1971) 275-290,
   doi:10.1002/nme.1620030211
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.checks import Floats, finite_rows, positive
from kitwright.errors import InputError

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Ints = NDArray[np.int64]

OFFSETS: Final = np.array(
    [place for place in itertools.product(range(3), repeat=3) if place.count(1) <= 1]
)
"""(20, 3): where each node of an element lies on its grid."""

_AT_ONCE: Final = 1024


@dataclass(frozen=True, kw_only=True)
class Isotropic:
    """An isotropic elastic material."""

    e_gpa: float
    """Young's modulus."""
    nu: float
    """Poisson's ratio."""
    density_kg_m3: float

    def __post_init__(self) -> None:
        positive(self.e_gpa, where="e")
        positive(self.density_kg_m3, where="density")
        if not 0 <= self.nu < 0.5:
            raise InputError("nu", f"{self.nu:g} is no metal's", "give 0 to 0.49")

    @property
    def bar_speed_m_s(self) -> float:
        """Speed of a long wave along a thin bar."""
        return float(np.sqrt(self.e_gpa * 1e9 / self.density_kg_m3))

    def stiffness_pa(self) -> Floats:
        """(6, 6): stress from strain, in the order xx, yy, zz, xy, yz, zx (engineering shear)."""
        e, nu = self.e_gpa * 1e9, self.nu
        shear = e / (2 * (1 + nu))
        bulk = e * nu / ((1 + nu) * (1 - 2 * nu))
        law = np.zeros((6, 6))
        law[:3, :3] = bulk
        law[range(6), range(6)] += np.array([2, 2, 2, 1, 1, 1]) * shear
        return law


@dataclass(frozen=True, kw_only=True)
class Assembled:
    """A body's matrices; degree of freedom 3 i + d is node i's displacement along axis d.

    Only the lower or upper half is never stored apart: both are whole, symmetric, canonical CSR.
    """

    stiffness: csr_array
    """N/m."""
    mass: csr_array
    """kg."""
    mass_kg: float


def assemble(
    points_m: ArrayLike,
    elements: Ints,
    material: Isotropic,
    *,
    alone: NDArray[np.bool_] | None = None,
) -> Assembled:
    """Stiffness and mass of a body.

    Parameters
    ----------
    points_m : array_like, shape (n, 3)
    elements : integer array, shape (e, 20)
        Nodes of each element in the order of `OFFSETS`, right-handed.
    alone : boolean array, shape (e,)
        Elements of a row one element wide and high, which take all 27 points; none by default.

    Raises
    ------
    InputError
        An element that is folded or turned inside out.
    """
    from scipy.sparse import bsr_array, csr_array  # noqa: PLC0415 - half a second

    points = finite_rows(points_m, columns=3, least=20, where="points")
    indices, starts, places = _pattern(elements, len(points))
    blocks = np.zeros((len(indices), 9))
    weights = np.zeros(len(indices))
    root = np.linalg.cholesky(material.stiffness_pa()).astype(float)
    total = 0.0
    for rule, chosen in _by_rule(len(elements), alone):
        at = points[elements[chosen]]
        where = places[chosen].ravel()
        stiff = _stiffness(at, root, rule)
        for d in range(9):
            blocks[:, d] += np.bincount(where, stiff[..., d].ravel(), minlength=len(blocks))
        mass = _mass(at, material.density_kg_m3)
        weights += np.bincount(where, mass.ravel(), minlength=len(blocks))
        total += float(mass.sum())
    shape = (3 * len(points), 3 * len(points))
    diagonal = weights[:, None, None] * np.eye(3)

    def square(values: Floats) -> csr_array:
        whole = bsr_array((values, indices, starts), shape=shape)
        return csr_array(whole)

    mass_matrix = square(diagonal)
    mass_matrix.eliminate_zeros()
    return Assembled(stiffness=square(blocks.reshape(-1, 3, 3)), mass=mass_matrix, mass_kg=total)


def _by_rule(count: int, alone: NDArray[np.bool_] | None) -> Iterator[tuple[int, Ints]]:
    """Elements to be taken at once, and the points along each axis that their stiffness takes."""
    whole = np.zeros(count, dtype=bool) if alone is None else alone
    for rule, chosen in ((2, np.flatnonzero(~whole)), (3, np.flatnonzero(whole))):
        for start in range(0, len(chosen), _AT_ONCE):
            yield rule, chosen[start : start + _AT_ONCE]


def _pattern(elements: Ints, count: int) -> tuple[Ints, Ints, Ints]:
    """Which pairs of nodes meet, as the indices and starts of a CSR matrix, and where each
    element's pairs stand in it."""
    rows = np.repeat(elements, 20, axis=1).ravel()
    columns = np.tile(elements, (1, 20)).ravel()
    keys, places = np.unique(rows * count + columns, return_inverse=True)
    starts = np.searchsorted(keys, np.arange(count + 1) * count)
    indices = (keys % count).astype(np.int32)
    return indices, starts.astype(np.int32), places.reshape(len(elements), 400)


def shape_functions(at: ArrayLike) -> tuple[Floats, Floats]:
    """Values (g, 20) and slopes (g, 3, 20) of the shape functions at places in [-1, 1]³.

    They are 1 at their own node and 0 at the nineteen others, and add up to 1 everywhere.
    """
    place = np.atleast_2d(np.asarray(at, dtype=float))[:, None, :]
    node = (OFFSETS - 1.0)[None]
    factor = 1 + place * node
    middle = node == 0
    factor = np.where(middle, 1 - place**2, factor)
    slope = np.where(middle, -2 * place, node)
    whole = factor.prod(axis=2)
    others = np.stack(
        [factor[..., 1] * factor[..., 2], factor[..., 0] * factor[..., 2],
         factor[..., 0] * factor[..., 1]],
        axis=2,
    )  # fmt: skip
    others = slope * others
    corner = ~middle.any(axis=2)
    reach = np.where(corner, (place * node).sum(axis=2) - 2, 2.0)
    values = whole * reach / 8
    slopes = (others * reach[..., None] + np.where(corner, whole, 0.0)[..., None] * node) / 8
    return values, slopes.transpose(0, 2, 1)


def _gauss(points: int) -> tuple[Floats, Floats]:
    """Places (g, 3) and weights (g,) of the Gauss rule with so many points along each axis."""
    x, w = np.polynomial.legendre.leggauss(points)
    places = np.array(list(itertools.product(x, repeat=3)))
    return places, np.array(list(itertools.product(w, repeat=3))).prod(axis=1)


def _jacobian(at: Floats, slopes: Floats) -> tuple[Floats, Floats]:
    """(e, g, 3, 3) slopes of place by natural coordinate, and their determinants, above zero."""
    jacobian = slopes[None] @ at[:, None]
    volume = np.linalg.det(jacobian)
    if volume.min() <= 0:
        bad = int(np.unravel_index(volume.argmin(), volume.shape)[0])
        raise InputError("elements", f"number {bad} is folded", "draw the body without folds")
    return jacobian, volume


def _stiffness(at: Floats, root: Floats, rule: int) -> Floats:
    """(e, 20, 20, 9): stiffness between the nodes of each element."""
    places, weights = _gauss(rule)
    slopes = shape_functions(places)[1]
    jacobian, volume = _jacobian(at, slopes)
    by_place = np.linalg.solve(jacobian, np.broadcast_to(slopes, (*jacobian.shape[:2], 3, 20)))
    dx, dy, dz = by_place[:, :, 0], by_place[:, :, 1], by_place[:, :, 2]
    strain = np.zeros((*dx.shape[:2], 6, 20, 3))
    strain[:, :, 0, :, 0] = strain[:, :, 3, :, 1] = strain[:, :, 5, :, 2] = dx
    strain[:, :, 1, :, 1] = strain[:, :, 3, :, 0] = strain[:, :, 4, :, 2] = dy
    strain[:, :, 2, :, 2] = strain[:, :, 4, :, 1] = strain[:, :, 5, :, 0] = dz
    strain = strain.reshape(*dx.shape[:2], 6, 60)
    half = (root.T @ strain) * np.sqrt(weights * volume)[:, :, None, None]
    half = half.reshape(len(at), -1, 60)
    whole = half.transpose(0, 2, 1) @ half
    return whole.reshape(-1, 20, 3, 20, 3).transpose(0, 1, 3, 2, 4).reshape(-1, 20, 20, 9)


def _mass(at: Floats, density: float) -> Floats:
    """(e, 20, 20): mass between the nodes of each element, the same along each axis."""
    places, weights = _gauss(3)
    values, slopes = shape_functions(places)
    _, volume = _jacobian(at, slopes)
    half = values[None] * np.sqrt(density * weights * volume)[:, :, None]
    return half.transpose(0, 2, 1) @ half
