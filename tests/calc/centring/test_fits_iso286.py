"""Fits by name against ISO 286-1 and 286-2:2010, read in public reproductions of the tables."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.centring.fits_iso286 import deviations, fit
from kitwright.errors import InputError

# size, class, lower and upper deviation in µm. ISO 286-2:2010 limits as reproduced publicly.
PUBLISHED = [
    *((16, "H7", 0, 18), (16, "m6", 7, 18), (16, "h6", -11, 0)),
    *((25, "H7", 0, 21), (25, "g6", -20, -7), (25, "h6", -13, 0)),
    *((25, "K7", -15, 6), (25, "M7", -21, 0), (25, "N7", -28, -7), (25, "P7", -35, -14)),
    *((25, "R7", -41, -20), (25, "S7", -48, -27), (25, "JS7", -10.5, 10.5)),
    *((50, "s6", 43, 59), (50, "g6", -25, -9), (50, "k6", 2, 18), (50, "m6", 9, 25)),
    *((100, "p6", 37, 59), (100, "g6", -34, -12)),
    *((160, "H7", 0, 40), (160, "h6", -25, 0), (160, "f7", -83, -43), (160, "g6", -39, -14)),
    *((160, "k6", 3, 28), (160, "m6", 15, 40), (160, "n6", 27, 52), (160, "p6", 43, 68)),
    *((160, "r6", 65, 90), (160, "s6", 100, 125), (170, "r6", 68, 93), (170, "s6", 108, 133)),
    (300, "M6", -41, -9),  # the standard's own exception
]

LETTERS = "letters are c, d, e, f, g, h, js, k, m, n, p, r, s (capitals for a hole)"


@pytest.mark.parametrize(("size", "name", "lower", "upper"), PUBLISHED)
def test_published_limits(size: float, name: str, lower: float, upper: float) -> None:
    found = deviations(size, name)
    assert (found.lower_um, found.upper_um) == (lower, upper)


@pytest.mark.parametrize("grade", range(5, 12))
def test_grades_follow_the_tolerance_unit(grade: int) -> None:
    """ISO 286-1: i = 0.45 D^(1/3) + 0.001 D; IT5 to IT11 = 7 10 16 25 40 64 100 i; the table, which
    rules, is within 4 % of it above 10 mm, or within the micrometre it is rounded to."""
    edges = (10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
    for low, high in pairwise(edges):
        mean = (low * high) ** 0.5
        unit = 0.45 * mean ** (1 / 3) + 0.001 * mean
        width = deviations(high, f"H{grade}").upper_um
        assert width == pytest.approx(
            {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100}[grade] * unit, rel=0.045, abs=0.55
        )


@pytest.mark.parametrize(
    ("size", "widths"),
    [
        (3, (4, 6, 10, 14, 25, 40, 60)),
        (16, (8, 11, 18, 27, 43, 70, 110)),
        (125, (18, 25, 40, 63, 100, 160, 250)),
        (500, (27, 40, 63, 97, 155, 250, 400)),
    ],
)
def test_published_grades(size: float, widths: tuple[int, ...]) -> None:
    """ISO 286-1:2010, table 1, IT5 to IT11; 125 mm lies in the step 120 to 180."""
    assert tuple(deviations(size, f"h{grade}").lower_um for grade in range(5, 12)) == tuple(
        -width for width in widths
    )


@given(st.floats(0.5, 500), st.integers(5, 7))
def test_a_step_includes_its_upper_end_and_letters_keep_their_order(
    size: float, grade: int
) -> None:
    order = ["c", "d", "e", "f", "g", "h", "k", "m", "n", "p", "r", "s"]
    lowers = [deviations(size, f"{letter}{grade}").lower_um for letter in order]
    assert lowers == sorted(lowers)
    widths = {
        deviations(size, f"{letter}{grade}").upper_um - low
        for letter, low in zip(order, lowers, strict=True)
    }
    assert len(widths) == 1  # the grade alone sets the width


@given(st.sampled_from("cdefgh"), st.floats(0.5, 500), st.integers(5, 11))
def test_loose_holes_are_shafts_turned_over(letter: str, size: float, grade: int) -> None:
    shaft, hole = deviations(size, f"{letter}{grade}"), deviations(size, f"{letter.upper()}{grade}")
    assert (hole.lower_um, hole.upper_um) == (-shaft.upper_um, -shaft.lower_um)


def test_the_step_ends_at_its_size() -> None:
    """18 mm is in the step 10 to 18, 18.001 in the next."""
    assert deviations(18, "H7").upper_um == 18
    assert deviations(18.001, "H7").upper_um == 21
    assert deviations(40, "c11").upper_um == -120
    assert deviations(41, "c11").upper_um == -130


def test_a_transition_fit_has_its_clearance() -> None:
    """16 H7/m6: clearance 11 to interference 18, so the play is 0 to 11 µm."""
    found = fit("16 H7/m6")
    assert (found.hole.low_mm, found.hole.high_mm) == (16, 16.018)
    assert (found.pin.low_mm, found.pin.high_mm) == (16.007, 16.018)
    assert found.least_mm == 0
    assert found.largest_mm == pytest.approx(0.011, abs=1e-12)
    assert found.chance_below(0) > 0.5


def test_a_running_fit_is_never_tight() -> None:
    """25 H7/g6: clearance 7 to 41 µm, as published."""
    found = fit(" 25mm H7 / g6 ")
    assert (found.least_mm, found.largest_mm) == pytest.approx((0.007, 0.041), abs=1e-12)


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("16 H7/q6", f'fit: "q6" is not a class known here; {LETTERS}'),
        ("16 H7", 'fit: "16 H7" is not a fit; write it as "16 H7/m6", size in mm'),
        ("16 m6/H7", 'fit: "16 m6/H7" is not a fit; write it as "16 H7/m6", size in mm'),
        ("H7/m6", 'fit: "H7/m6" is not a fit; write it as "16 H7/m6", size in mm'),
        ("16 H12/m6", 'fit: "H12" has grade 12; give a grade of 5 to 11'),
        ("16 H4/m6", 'fit: "H4" has grade 4; give a grade of 5 to 11'),
        ("600 H7/m6", "fit: 600 mm is out of the tables; give 500 mm or less"),
        ("0 H7/m6", "fit: 0 mm is out of the tables; give 500 mm or less"),
        ("16 K9/h6", 'fit: "K9" is not in the standard; give K8 or finer'),
        ("16 M5/h6", 'fit: "M5" is not in the tables here; give grade 6 up'),
        ("", 'fit: "" is not a fit; write it as "16 H7/m6", size in mm'),
    ],
)  # fmt: skip
def test_unknown_fits_say_what_to_write(name: str, line: str) -> None:
    with pytest.raises(InputError) as caught:
        fit(name)
    assert caught.value.lines == [line]
