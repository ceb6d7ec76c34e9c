"""Closed forms about circles: how much of a disc, a circle or a chord lies within a radius.

Everywhere: `centres` are offsets from the crank axis, shape (n, 2); `within_mm` is the radius about
the crank axis; any one length unit. A point at the radius counts as within.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.special import j0, j1, ndtr

from kitwright.calc.checks import Floats

AT_LIMIT: Final = 1e-12
"""Offsets above a radius by less than this part of it count as at the radius: rounding only."""

BESSEL_BOUND: Final = 0.83
"""|J0(x)| and |J1(x)| stay below this over the root of x, for every x > 0."""


def share_of_disc(centres: Floats, radius_mm: Floats | float, within_mm: float) -> Floats:
    """The part of the area of each disc that lies within: the lens of two circles."""
    d = np.hypot(centres[:, 0], centres[:, 1])
    big = np.broadcast_to(np.asarray(radius_mm, dtype=float), d.shape)
    r = within_mm
    share = np.where(d + big <= r, 1.0, 0.0)
    holds = (d + r <= big) & (big > 0)
    share[holds] = (r / big[holds]) ** 2
    cut = (d + big > r) & (d + r > big) & (d < big + r) & (big > 0)
    d, big = d[cut], big[cut]
    here = np.arccos(np.clip((d**2 + r**2 - big**2) / (2 * d * r), -1, 1))
    there = np.arccos(np.clip((d**2 + big**2 - r**2) / (2 * d * big), -1, 1))
    kite = np.sqrt(np.clip((-d + r + big) * (d + r - big) * (d - r + big) * (d + r + big), 0, None))
    share[cut] = (r**2 * here + big**2 * there - kite / 2) / (np.pi * big**2)
    return share


def share_of_arc(centres: Floats, radius_mm: float, within_mm: float) -> Floats:
    """The part of each circle's line that lies within."""
    d = np.hypot(centres[:, 0], centres[:, 1])
    room = within_mm**2 * (1 + 2 * AT_LIMIT) - radius_mm**2 - d**2
    twice = 2 * radius_mm * d
    cosine = np.divide(room, twice, out=np.where(room >= 0, 1.0, -1.0), where=twice > 0)
    return np.asarray(1 - np.arccos(np.clip(cosine, -1, 1)) / np.pi)


def chord(centres: Floats, half_mm: Floats, within_mm: float) -> tuple[Floats, Floats]:
    """From where to where the points centre + t half lie within, in t; empty: from above to.

    `half_mm` has shape (2,) or (n, 2) and is not zero.
    """
    length = np.hypot(half_mm[..., 0], half_mm[..., 1])
    along = (centres[:, 0] * half_mm[..., 0] + centres[:, 1] * half_mm[..., 1]) / length
    across = (centres[:, 0] * half_mm[..., 1] - centres[:, 1] * half_mm[..., 0]) / length
    room = within_mm**2 * (1 + 2 * AT_LIMIT) - across**2
    root = np.sqrt(np.maximum(room, 0))
    start, end = (-root - along) / length, (root - along) / length
    return np.where(room < 0, np.inf, start), np.where(room < 0, -np.inf, end)


def share_of_chord(
    centres: Floats, half_mm: Floats, within_mm: float, *, sigmas: float | None = None
) -> Floats:
    """The part of each line from centre - half to centre + half that lies within.

    Even along the line; with `sigmas`, normal along it, the ends `sigmas` standard deviations out.
    """
    start, end = chord(centres, half_mm, within_mm)
    if sigmas is None:
        return np.asarray(np.maximum(np.minimum(end, 1.0) - np.maximum(start, -1.0), 0.0) / 2)
    return np.asarray(np.maximum(np.asarray(ndtr(sigmas * end) - ndtr(sigmas * start)), 0.0))


def share_of_ellipse(
    centres: Floats, shape_mm: Floats, within_mm: float, uniforms: Floats
) -> Floats:
    """The part of an ellipse's area that lies within, as a mean over one uniform each.

    `shape_mm` makes the ellipse of the unit disc; shape (2, 2), or (n, 2, 2) for one each. The
    uniform places a chord along the ellipse's second axis; the chord has a closed form.
    """
    along = 2 * uniforms - 1
    half = np.sqrt(1 - along**2)
    start = centres + along[:, None] * shape_mm[..., 0]
    return 4 / np.pi * half * share_of_chord(start, half[:, None] * shape_mm[..., 1], within_mm)


def furthest_on_ellipse(shape_mm: Floats, towards: Floats) -> Floats:
    """The point furthest along each direction of the ellipse that `shape_mm` makes of a circle."""
    pulled = towards @ shape_mm
    length = np.hypot(pulled[:, 0], pulled[:, 1])[:, None]
    unit = np.divide(pulled, length, out=np.zeros_like(pulled), where=length > 0)
    return unit @ shape_mm.T


def wave_terms(phase: float) -> int:
    """Terms that carry a plane wave over an extent of this phase (radians) to about 1e-11.

    The coefficients of its expansion are Bessel functions J_m(phase) (Jacobi and Anger), which
    fall faster than any power once m has passed the phase by a few of its cube roots.
    """
    return 14 + int(phase + 9 * phase ** (1 / 3))


def disc_wave(q: Floats) -> Floats:
    """The characteristic function of an even unit disc, 2 J1(q)/q."""
    small = np.abs(q) < 1e-4
    safe = np.where(small, 1.0, q)
    return np.where(small, 1 - q**2 / 8, 2 * j1(safe) / safe)


def ring_wave(q: Floats) -> Floats:
    """The characteristic function of the unit circle's line, J0(q)."""
    return np.asarray(j0(q))


def disc_bound(q: Floats) -> Floats:
    """A bound on `disc_wave` that never rises with q >= 0."""
    with np.errstate(divide="ignore"):
        return np.minimum(1.0, 2 * BESSEL_BOUND * q**-1.5)


def ring_bound(q: Floats) -> Floats:
    """A bound on `ring_wave` that never rises with q >= 0."""
    with np.errstate(divide="ignore"):
        return np.minimum(1.0, BESSEL_BOUND * q**-0.5)
