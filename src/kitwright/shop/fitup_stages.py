"""The stages of a fit-up in order: what each needs, why, what to do, when to stop and call.

One declaration for the fitter's page and for paper. The practice in it is that of the trade
(common practice, no source) unless a worksheet stands behind it; no figure for a bolt, a clutch or
a bearing is ours, the makers' figures are.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from kitwright.shop.fitup_assembly import ASSEMBLY
from kitwright.shop.fitup_centring import CENTRING
from kitwright.shop.fitup_stage import Field, Stage

__all__ = ["BY_NAME", "STAGES", "Field", "Stage"]

STAGES: Final = (*CENTRING, *ASSEMBLY)

BY_NAME: Final = MappingProxyType({stage.name: stage for stage in STAGES})
