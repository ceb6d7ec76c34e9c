"""Loss factors as published: orders of magnitude, to be used as ranges and never as values.

A single casting that hangs free comes near its material. Whatever is bolted is ruled by its joints.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SOURCE: Final = (
    "L. Cremer, M. Heckl, E. E. Ungar, Structure-Borne Sound; L. L. Beranek, Noise and Vibration "
    "Control; VDI 3727 (orders of magnitude, from memory)"
)


@dataclass(frozen=True, kw_only=True)
class LossRange:
    """From least to most that is published for a material or a way of building."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The geometric mean: as many times above the least as below the most."""
        return float((self.low * self.high) ** 0.5)


LOSSES: Final = {
    "aluminium alloy": LossRange(low=1e-4, high=1e-3),
    "steel": LossRange(low=1e-4, high=1e-3),
    "grey iron": LossRange(low=1e-3, high=1e-2),
    "welded steel": LossRange(low=2e-3, high=1e-2),
    "bolted together": LossRange(low=1e-2, high=5e-2),
}
"""Material, or how it is built → what is published."""
