"""The pieces of a disc that bursts at speed: how heavy, how fast, how large.

Only the energy of a piece's flight counts, as in rotor-burst practice [1]_: it leaves along a
tangent with the speed that its centre had. What it keeps of its turning is not counted.

References
----------
.. [1] FAA Advisory Circular 20-128A (1997), section 9: one third of a disc within 3 degrees of
   its plane; an intermediate piece, a thirtieth of the mass and a third of the radius long, at
   rim speed within 5 degrees; small pieces within 15 degrees. The mass of the intermediate piece
   from memory.
.. [2] A. Cauchy (1841): the mean shadow of a convex body over all directions is a quarter of its
   surface.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats, not_negative, positive
from kitwright.errors import InputError

THIRD: Final = "one third"
_STEP_DEG: Final = 0.5
_NARROW_DEG: Final = 10.0


@dataclass(frozen=True, kw_only=True)
class Disc:
    """A plain disc or ring of even thickness, turning. Lengths in mm, mass in kg, speed in rpm.

    Raises
    ------
    InputError
        A mass, radius, thickness or speed that is not above zero, or an inner radius that is not
        below the outer.
    """

    mass_kg: float
    outer_radius_mm: float
    inner_radius_mm: float
    thickness_mm: float
    speed_rpm: float

    def __post_init__(self) -> None:
        for name in ("mass_kg", "outer_radius_mm", "thickness_mm", "speed_rpm"):
            positive(getattr(self, name), where=name)
        if not_negative(self.inner_radius_mm, where="inner_radius_mm") >= self.outer_radius_mm:
            raise InputError(
                "inner_radius_mm",
                f"{self.inner_radius_mm:g} is not below the outer radius",
                f"give less than {self.outer_radius_mm:g}",
            )

    @property
    def omega_rad_s(self) -> float:
        return self.speed_rpm * math.pi / 30

    @property
    def energy_j(self) -> float:
        """All that the turning disc holds."""
        squares = (self.outer_radius_mm**2 + self.inner_radius_mm**2) * 1e-6
        return self.mass_kg * squares * self.omega_rad_s**2 / 4


@dataclass(frozen=True, kw_only=True)
class Fragment:
    """A piece in flight.

    `radius_mm` is where its centre was, `length_mm` its greatest dimension; its shadow edge first
    is the least of all, and the mean one is taken over all directions.
    """

    name: str
    mass_kg: float
    radius_mm: float
    speed_m_s: float
    length_mm: float
    edge_area_mm2: float
    mean_area_mm2: float
    spread_deg: float | None = None
    """How far from the disc's plane practice reckons with it, either way; None: not said."""

    @property
    def energy_j(self) -> float:
        """Of its flight alone."""
        return self.mass_kg * self.speed_m_s**2 / 2


def sector(
    disc: Disc,
    sweep_deg: float,
    *,
    name: str,
    from_radius_mm: float | None = None,
    spread_deg: float | None = None,
) -> Fragment:
    """The piece between two radii, from `from_radius_mm` (the disc's inner radius) to the rim.

    Its centre lies at (2/3) (R³ - r³)/(R² - r²) sin(a)/a, a half the sweep in radians.

    Raises
    ------
    InputError
        A sweep that is not above 0 and at most 180 degrees, or a radius outside the disc.
    """
    if not 0 < sweep_deg <= 180:
        raise InputError("sweep_deg", f"{sweep_deg:g} is out of range", "give above 0 to 180")
    inner = disc.inner_radius_mm if from_radius_mm is None else from_radius_mm
    outer = disc.outer_radius_mm
    if not disc.inner_radius_mm <= inner < outer:
        raise InputError("from_radius_mm", f"{inner:g} is not in the disc", "give one within it")
    half = math.radians(sweep_deg) / 2
    whole = outer**2 - disc.inner_radius_mm**2
    share = sweep_deg / 360 * (outer**2 - inner**2) / whole
    # (R³ - r³)/(R² - r²) without the difference of near equals
    ratio = (outer**2 + outer * inner + inner**2) / (outer + inner)
    centre = 2 / 3 * ratio * math.sin(half) / half
    # of the hull: its inner side is the chord between the inner corners
    area = half * outer**2 - inner**2 * math.sin(2 * half) / 2
    around = 2 * half * outer + 2 * (outer - inner) + 2 * inner * math.sin(half)
    least, greatest = _widths(_corners(inner, outer, half))
    thick = disc.thickness_mm
    return Fragment(
        name=name,
        mass_kg=disc.mass_kg * share,
        radius_mm=centre,
        speed_m_s=disc.omega_rad_s * centre * 1e-3,
        length_mm=math.hypot(greatest, thick),
        edge_area_mm2=min(area, least * thick),
        mean_area_mm2=(2 * area + around * thick) / 4,
        spread_deg=spread_deg,
    )


def intermediate(disc: Disc) -> Fragment:
    """A thirtieth of the mass at rim speed, a third of the radius long, as thick as the disc."""
    length = disc.outer_radius_mm / 3
    area = math.pi * (disc.outer_radius_mm**2 - disc.inner_radius_mm**2) / 30
    width, thick = area / length, disc.thickness_mm
    return Fragment(
        name="a thirtieth, at rim speed",
        mass_kg=disc.mass_kg / 30,
        radius_mm=disc.outer_radius_mm,
        speed_m_s=disc.omega_rad_s * disc.outer_radius_mm * 1e-3,
        length_mm=math.hypot(length, width, thick),
        edge_area_mm2=min(area, min(length, width) * thick),
        mean_area_mm2=(area + (length + width) * thick) / 2,
        spread_deg=5.0,
    )


def own_piece(
    disc: Disc, *, name: str, mass_kg: float, radius_mm: float, across_mm: float
) -> Fragment:
    """A piece of one's own: its mass, where its centre runs, and how wide it is where it hits."""
    positive(mass_kg, where="mass_kg")
    positive(radius_mm, where="radius_mm")
    area = math.pi * positive(across_mm, where="across_mm") ** 2 / 4
    return Fragment(
        name=name,
        mass_kg=mass_kg,
        radius_mm=radius_mm,
        speed_m_s=disc.omega_rad_s * radius_mm * 1e-3,
        length_mm=across_mm,
        edge_area_mm2=area,
        mean_area_mm2=area,
    )


def fragments(disc: Disc) -> tuple[Fragment, ...]:
    """Half, a third, a thirtieth at rim speed, and a narrow piece of the outer half."""
    middle = (disc.inner_radius_mm + disc.outer_radius_mm) / 2
    return (
        sector(disc, 180, name="one half"),
        sector(disc, 120, name=THIRD, spread_deg=3.0),
        intermediate(disc),
        sector(
            disc,
            _NARROW_DEG,
            name=f"{_NARROW_DEG:g}° of the outer half",
            from_radius_mm=middle,
            spread_deg=15.0,
        ),
    )


def _corners(inner: float, outer: float, half: float) -> Floats:
    """The hull's corners, (n, 2), the arc in steps of half a degree at most."""
    count = max(3, math.ceil(math.degrees(2 * half) / _STEP_DEG) + 1)
    angles = np.linspace(-half, half, count)
    arc = outer * np.column_stack([np.sin(angles), np.cos(angles)])
    ends = np.array([half, -half]) if inner else np.array([0.0])
    return np.vstack([arc, inner * np.column_stack([np.sin(ends), np.cos(ends)])])


def _widths(corners: Floats) -> tuple[float, float]:
    """Least width and greatest dimension of a convex shape; at the least one side lies flush."""
    sides = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(*sides.T)
    sides = sides[lengths > 0] / lengths[lengths > 0, None]
    across = corners @ np.column_stack([-sides[:, 1], sides[:, 0]]).T
    apart = corners[:, None] - corners[None]
    return float(np.ptp(across, axis=0).min()), float(np.hypot(*apart.T).max())
