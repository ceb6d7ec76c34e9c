"""What it takes to drive a piece through a wall, by published formulas.

Each is a fit to shots at flat plates, and says only where its own shots lay. They differ by a
factor of several: an answer is all of them side by side, each with what of the case lies outside
its range. A model that misses its range by more than ten times is named and not used. None says
anything of a bell that is curved, bolted, pierced or hot.

References
----------
.. [1] BC-TOP-9A (1974), steel targets; T = (M V²/2)^(2/3) / (672 D): from memory.
.. [2] W. B. Cottrell, A. W. Savolainen, NSIC-5 (1965), ch. 6, the formula of the Stanford
   Research Institute: from memory, with its range.
.. [3] Project THOR, technical report 47 (1961), residual velocity: coefficients and ranges from
   memory.
.. [4] A. J. Neilson, Int. J. Impact Eng. 3 (1985) 137-142, mild steel: from memory, with its
   range.
.. [5] R. F. Recht, T. W. Ipson, J. Appl. Mech. 30 (1963) 384-390.
.. [6] J. P. Lambert, G. H. Jonas, BRL Report 1852 (1976).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.calc.checks import not_negative, positive
from kitwright.errors import InputError

Metal = Literal["steel", "iron", "aluminium"]

INCH_MM: Final = 25.4
FOOT_M: Final = 0.3048
FOOT_POUND_J: Final = 1.3558179483314004  # 0.3048 m x 4.4482216152605 N (NIST SP 811)
PSI_MPA: Final = 0.006894757293168361
GRAIN_KG: Final = 6.479891e-5
_STANDARD_WIDTH_IN: Final = 4.0

FAR: Final = 10.0
"""A model whose range is missed by more than so many times says nothing."""


@dataclass(frozen=True, kw_only=True)
class Wall:
    """A flat plate. `span_mm` is the free width between its supports."""

    metal: Metal
    thickness_mm: float
    strength_mpa: float
    density_kg_m3: float
    span_mm: float = _STANDARD_WIDTH_IN * INCH_MM

    def __post_init__(self) -> None:
        for name in ("thickness_mm", "strength_mpa", "density_kg_m3", "span_mm"):
            positive(getattr(self, name), where=name)


@dataclass(frozen=True, kw_only=True)
class Impact:
    """A piece that hits square on, with the area that it presents and its length behind that."""

    mass_kg: float
    speed_m_s: float
    area_mm2: float
    length_mm: float

    def __post_init__(self) -> None:
        for name in ("mass_kg", "speed_m_s", "area_mm2", "length_mm"):
            positive(getattr(self, name), where=name)

    @property
    def energy_j(self) -> float:
        return self.mass_kg * self.speed_m_s**2 / 2

    @property
    def diameter_mm(self) -> float:
        """Of the circle of the same area."""
        return math.sqrt(4 * self.area_mm2 / math.pi)


@dataclass(frozen=True)
class Beyond:
    """What of a case a model was not made for; how many times beyond, where that is a number."""

    words: str
    times: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Limit:
    """By one model, the energy at which a piece just comes through, and the model's own range.

    Energy and speed are None where the range is missed too far for the model to say anything.
    """

    model: str
    energy_j: float | None
    speed_m_s: float | None
    outside: tuple[str, ...]


def limits(impact: Impact, wall: Wall) -> tuple[Limit, ...]:
    """By every model that knows the wall's metal."""
    found = []
    for name, energy, outside in _MODELS[wall.metal]:
        joules = energy(impact, wall)
        speed = math.sqrt(2 * joules / impact.mass_kg)
        beyond = tuple(outside(impact, wall, speed))
        far = any(each.times > FAR for each in beyond)
        found.append(
            Limit(
                model=name,
                energy_j=None if far else joules,
                speed_m_s=None if far else speed,
                outside=tuple(each.words for each in beyond),
            )
        )
    return tuple(found)


# ── the models ───────────────────────────────────────────────────────────────────────────


def brl_energy_j(diameter_mm: float, thickness_mm: float) -> float:
    """(672 D T)^(3/2) foot-pounds, D and T in inches; steel [1]_.

    >>> round(brl_energy_j(20, 12))
    5358
    """
    return float((672 * diameter_mm * thickness_mm / INCH_MM**2) ** 1.5 * FOOT_POUND_J)


def stanford_energy_j(
    diameter_mm: float, thickness_mm: float, strength_mpa: float, span_mm: float
) -> float:
    """D S/46500 (16000 T² + 1500 T W/4) foot-pounds; inches and psi; steel [2]_."""
    t, d = thickness_mm / INCH_MM, diameter_mm / INCH_MM
    spans = span_mm / INCH_MM / _STANDARD_WIDTH_IN
    strength = strength_mpa / PSI_MPA
    return d * strength / 46_500 * (16_000 * t * t + 1_500 * spans * t) * FOOT_POUND_J


@dataclass(frozen=True)
class Thor:
    """Coefficients of one target metal [3]_, and where its shots lay: inches, grains, ft/s."""

    c: float
    alpha: float
    beta: float
    gamma: float
    lamda: float
    thickness_in: tuple[float, float]
    mass_grains: tuple[float, float]
    speed_ft_s: tuple[float, float]

    def speed_lost_ft_s(
        self, *, thickness_in: float, area_in2: float, mass_grains: float, speed_ft_s: float
    ) -> float:
        """10^c (eA)^alpha m^beta V^lambda, hit square on."""
        factor = self._factor(thickness_in, area_in2, mass_grains)
        return float(factor * float(speed_ft_s) ** self.lamda)

    def limit_ft_s(self, *, thickness_in: float, area_in2: float, mass_grains: float) -> float:
        """The speed at which all of it is lost."""
        factor = self._factor(thickness_in, area_in2, mass_grains)
        return float(factor ** (1 / (1 - self.lamda)))

    def _factor(self, thickness_in: float, area_in2: float, mass_grains: float) -> float:
        return float(10**self.c * (thickness_in * area_in2) ** self.alpha * mass_grains**self.beta)


THOR: Final[dict[Metal, Thor]] = {
    "steel": Thor(
        6.399, 0.889, -0.945, 1.262, 0.019, (0.02, 1.0), (5.0, 240.0), (1200.0, 11_000.0)
    ),
    "iron": Thor(4.840, 1.042, -1.051, 1.028, 0.523, (0.19, 0.56), (15.0, 240.0), (1100.0, 6100.0)),
    "aluminium": Thor(
        7.047, 1.029, -1.072, 1.251, -0.139, (0.02, 2.0), (5.0, 240.0), (1200.0, 11_000.0)
    ),
}
"""Mild steel, cast iron, aluminium alloy 2024-T3; all from memory."""


def neilson_energy_j(
    diameter_mm: float, thickness_mm: float, strength_mpa: float, span_mm: float
) -> float:
    """1.4 S D³ (T/D)^1.7 (W/D)^0.6, alike in any units; mild steel [4]_."""
    d = diameter_mm * 1e-3
    ratio = (thickness_mm / diameter_mm) ** 1.7 * (span_mm / diameter_mm) ** 0.6
    return float(1.4 * strength_mpa * 1e6 * d**3 * ratio)


def plug_energy_j(diameter_mm: float, thickness_mm: float, strength_mpa: float) -> float:
    """The work of shearing a plug out slowly: (S/√3) π D T²/2, the sheared height shrinking."""
    stress = strength_mpa / math.sqrt(3)
    return stress * math.pi * diameter_mm * thickness_mm**2 / 2 * 1e-3


# ── what comes out behind ────────────────────────────────────────────────────────────────


def speed_left_m_s(
    speed_m_s: float, limit_m_s: float, *, mass_kg: float, plug_kg: float = 0.0
) -> float:
    """M/(M + plug) √(V² - limit²), zero at and below the limit [5]_."""
    positive(mass_kg, where="mass_kg")
    share = mass_kg / (mass_kg + not_negative(plug_kg, where="plug_kg"))
    return lambert_jonas_m_s(speed_m_s, limit_m_s, a=share, p=2.0)


def lambert_jonas_m_s(speed_m_s: float, limit_m_s: float, *, a: float, p: float) -> float:
    """a (V^p - limit^p)^(1/p), zero at and below the limit [6]_."""
    not_negative(speed_m_s, where="speed_m_s")
    if positive(limit_m_s, where="limit_m_s") >= speed_m_s:
        return 0.0
    if not 0 < a <= 1 or not p > 1:
        raise InputError("a, p", f"{a:g} and {p:g}", "give 0 < a <= 1 and p > 1")
    # over the speed, so that no power of it is too large
    return float(a * speed_m_s * (1 - (limit_m_s / speed_m_s) ** p) ** (1 / p))


def plug_mass_kg(impact: Impact, wall: Wall) -> float:
    """Of the wall's metal that is pushed out before the piece."""
    return wall.density_kg_m3 * impact.area_mm2 * wall.thickness_mm * 1e-9


# ── ranges ───────────────────────────────────────────────────────────────────────────────


def _range(
    what: str, value: float, low: float, high: float = math.inf, unit: str = ""
) -> Iterator[Beyond]:
    if low <= value <= high:
        return
    made = f"{_said(low)} or more" if high == math.inf else f"{_said(low)} to {_said(high)}"
    times = low / value if value < low else value / high
    given = f"{what} {_said(value)} {unit}".rstrip()
    yield Beyond(f"{given} ({made})", times)


def _said(value: float) -> str:
    return f"{value:.0f}" if value >= 1000 else f"{value:.3g}"


def _brl_outside(impact: Impact, wall: Wall, speed: float) -> Iterator[Beyond]:
    yield Beyond("its range is not known to us")


def _stanford_outside(impact: Impact, wall: Wall, speed: float) -> Iterator[Beyond]:
    d, t = impact.diameter_mm, wall.thickness_mm
    yield from _range("thickness/diameter", t / d, 0.1, 0.8)
    yield from _range("thickness/length", t / impact.length_mm, 0.002, 0.05)
    yield from _range("length/diameter", impact.length_mm / d, 10, 50)
    yield from _range("span/diameter", wall.span_mm / d, 5, 8)
    yield from _range("span/thickness", wall.span_mm / t, 8, 100)
    yield from _range("limit speed", speed, 70 * FOOT_M, 400 * FOOT_M, "m/s")


def _neilson_outside(impact: Impact, wall: Wall, speed: float) -> Iterator[Beyond]:
    d = impact.diameter_mm
    yield from _range("thickness/diameter", wall.thickness_mm / d, 0.14, 0.64)
    yield from _range("length/diameter", impact.length_mm / d, 13)
    yield from _range("span/diameter", wall.span_mm / d, 4, 22)
    if wall.metal != "steel":
        yield Beyond("made for mild steel")


def _thor_outside(impact: Impact, wall: Wall, speed: float) -> Iterator[Beyond]:
    table = THOR[wall.metal]
    low, high = (grains * GRAIN_KG * 1e3 for grains in table.mass_grains)
    yield from _range("mass", impact.mass_kg * 1e3, low, high, "g")
    low, high = (inches * INCH_MM for inches in table.thickness_in)
    yield from _range("thickness", wall.thickness_mm, low, high, "mm")
    low, high = (feet * FOOT_M for feet in table.speed_ft_s)
    yield from _range("limit speed", speed, low, high, "m/s")
    if wall.metal == "aluminium":
        yield Beyond("made for rolled 2024-T3")


def _plug_outside(impact: Impact, wall: Wall, speed: float) -> Iterator[Beyond]:
    yield Beyond("no shots stand behind it")


def _brl(impact: Impact, wall: Wall) -> float:
    return brl_energy_j(impact.diameter_mm, wall.thickness_mm)


def _stanford(impact: Impact, wall: Wall) -> float:
    return stanford_energy_j(impact.diameter_mm, wall.thickness_mm, wall.strength_mpa, wall.span_mm)


def _thor(impact: Impact, wall: Wall) -> float:
    speed = THOR[wall.metal].limit_ft_s(
        thickness_in=wall.thickness_mm / INCH_MM,
        area_in2=impact.area_mm2 / INCH_MM**2,
        mass_grains=impact.mass_kg / GRAIN_KG,
    )
    return impact.mass_kg * (speed * FOOT_M) ** 2 / 2


def _neilson(impact: Impact, wall: Wall) -> float:
    return neilson_energy_j(impact.diameter_mm, wall.thickness_mm, wall.strength_mpa, wall.span_mm)


def _plug(impact: Impact, wall: Wall) -> float:
    return plug_energy_j(impact.diameter_mm, wall.thickness_mm, wall.strength_mpa)


_Model = tuple[
    str,
    Callable[[Impact, Wall], float],
    Callable[[Impact, Wall, float], Iterator[Beyond]],
]
_BRL: Final[_Model] = ("BRL", _brl, _brl_outside)
_STANFORD: Final[_Model] = ("Stanford", _stanford, _stanford_outside)
_NEILSON: Final[_Model] = ("Neilson", _neilson, _neilson_outside)
_THOR: Final[_Model] = ("THOR", _thor, _thor_outside)
_PLUG: Final[_Model] = ("plug", _plug, _plug_outside)

_MODELS: Final[dict[Metal, tuple[_Model, ...]]] = {
    "steel": (_BRL, _STANFORD, _NEILSON, _THOR, _PLUG),
    "iron": (_THOR, _PLUG),
    "aluminium": (_NEILSON, _THOR, _PLUG),
}
