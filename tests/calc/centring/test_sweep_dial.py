"""Errors of dials where none are given."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from kitwright.calc.centring.sweep_dial import Dial, jis_dial
from kitwright.calc.centring.sweep_form import usual_form_allowance
from kitwright.errors import InputError

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "jis_b_7503_2011.toml").read_text("utf-8")
)


@pytest.mark.parametrize("row", PUBLISHED["dial"], ids=lambda row: str(row["graduation_mm"]))
def test_published_errors(row):
    """JIS B 7503:2011, bezel of 50 mm and more."""
    graduation = row["graduation_mm"]
    fine, coarse = (jis_dial(graduation, span_mm=span * graduation) for span in (100, 101))
    assert 1000 * fine.repeatability_mm == pytest.approx(row["repeatability_um"])
    assert 1000 * fine.error_mm == pytest.approx(row["one_turn_um"])
    assert 1000 * coarse.error_mm == pytest.approx(row["whole_range_um"])
    assert fine.graduation_mm == graduation


def test_graduations_that_the_standard_has_not():
    """The next coarser one's; in proportion beyond: a thou dial has 0.01 mm's times 2.54.

    ±1 graduation is also what ASME B89.1.10 practice allows a thou dial: from memory.
    """
    assert jis_dial(0.002, span_mm=0.1).error_mm == jis_dial(0.005, span_mm=0.1).error_mm
    assert jis_dial(0.0, span_mm=0.01).error_mm == jis_dial(0.001, span_mm=0.01).error_mm
    thou = jis_dial(0.0254, span_mm=0.2)
    assert thou.error_mm == pytest.approx(0.0254)
    assert thou.repeatability_mm == pytest.approx(0.3 * 0.0254)


def test_a_reading_is_known_by_quadrature():
    """GUM F.2.2.1: a graduation g has g/√12; 4.3.7: a bound b has b/√3."""
    dial = Dial(repeatability_mm=0.003, graduation_mm=0.012, error_mm=0.009)
    assert dial.reading_u_mm**2 == pytest.approx(0.003**2 + 0.012**2 / 12 + 0.009**2 / 3)
    assert dial.lasting_u_mm**2 == pytest.approx(0.012**2 / 12 + 0.009**2 / 3)
    assert dial.quiet_u_mm**2 == pytest.approx(0.003**2 + 0.012**2 / 12)


@pytest.mark.parametrize("name", ["repeatability", "graduation", "error"])
def test_negative_errors_are_refused(name):
    zero = dict.fromkeys(("repeatability_mm", "graduation_mm", "error_mm"), 0.0)
    field = "dial_error" if name == "error" else name
    with pytest.raises(InputError, match=f"{field}: -1 is negative; give zero or more"):
        Dial(**{**zero, f"{name}_mm": -1.0})


@pytest.mark.parametrize(
    ("diameter", "it7_um"), [(160.0, 40), (None, 40), (120.0, 35), (120.1, 40), (900.0, 63)]
)
def test_out_of_round_allowed_for_is_half_of_it7(diameter, it7_um):
    """ISO 286-1:2010, Table 1. An ellipse of diameters D to D + IT7 swings a dial by half of it.

    Turn a dial about the middle of that ellipse and see.
    """
    long, short = 80 + it7_um / 2000, 80.0
    t = [math.radians(k) for k in range(360)]
    wall = [long * short / math.hypot(short * math.cos(a), long * math.sin(a)) for a in t]
    assert 2 * (long - short) * 1000 == pytest.approx(it7_um)
    assert usual_form_allowance(diameter) == pytest.approx(max(wall) - min(wall), rel=1e-9)
