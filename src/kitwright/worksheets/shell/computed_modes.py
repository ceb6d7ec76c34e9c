"""A design's computed modes as other worksheets of the stage use them."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes, bell_modes
from kitwright.calc.shell.mode_pairs import pair_modes
from kitwright.errors import InputError
from kitwright.units import plain
from kitwright.worksheets.fields import PositiveSize
from kitwright.worksheets.shell.bell_case import material_of, shape_of
from kitwright.worksheets.shell.modes import SPACINGS, looked_among
from kitwright.worksheets.shell.modes_case import ModesCase

_THICKER: Final = 1.04


def computed_modes(case: ModesCase, where: str) -> Modes:
    """The modes of a design that stands within another case, under `where`.

    Raises
    ------
    InputError
        A design that cannot be, or one with a change in it.
    """
    try:
        if case.change is not None:
            raise InputError("change", "a design and its change", "give one design")
        return _modes(case.model_dump_json())
    except InputError as error:
        raise InputError.of([problem.within(where) for problem in error.problems]) from None


@lru_cache(maxsize=8)
def _modes(written: str) -> Modes:
    case = ModesCase.model_validate_json(written)
    return bell_modes(
        shape_of(case),
        material_of(case)[0],
        count=case.count,
        support=case.support,
        spacing=SPACINGS[case.mesh],
    )


def modulus_gpa(case: ModesCase) -> float:
    """Young's modulus of the design's material."""
    return material_of(case)[0].e_gpa


def wall_slopes(case: ModesCase, where: str) -> Floats:
    """d ln f / d ln t of each mode, t the thickness of the whole wall, from a second solve with a
    wall 4 % thicker, in which each mode is found by its shape; one that has no like there, since it
    mixes with another, is taken to rise as most do. Shape (m,)."""
    update: dict[str, Any] = {"wall": _thicker(case.wall)}
    if case.wall_rear is not None:
        update["wall_rear"] = _thicker(case.wall_rear)
    update["count"] = looked_among(case)
    thicker = computed_modes(case.model_copy(update=update), where)
    usual = computed_modes(case, where)
    after = pair_modes(usual, thicker).after
    slopes = np.array(
        [
            np.nan if column is None else np.log(thicker.frequencies_hz[column] / pitch)
            for pitch, column in zip(usual.frequencies_hz, after, strict=True)
        ]
    ) / np.log(_THICKER)
    return np.asarray(np.where(np.isnan(slopes), np.nanmedian(slopes), slopes))


def _thicker(size: PositiveSize) -> PositiveSize:
    return PositiveSize(f"{plain(_THICKER * size.mm, 9)} mm")
