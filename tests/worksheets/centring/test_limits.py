"""Limits by standard."""

from __future__ import annotations

import itertools

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.centring.limits import HOUSINGS, TirLimit
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read

# SAE J617 housings with the limits of SAE J1033 for bore and face (full indicator movement), as a
# clutch maker's manual repeats them; the range .18 mm (No. 6) to .48 mm (No. 00) stands there too.
PUBLISHED_IN = {
    "6": 0.007, "5": 0.008, "4": 0.009, "3": 0.010, "2": 0.011, "1": 0.012, "1/2": 0.014,
    "0": 0.016, "00": 0.019,
}  # fmt: skip


@pytest.mark.parametrize(("number", "tir_in"), PUBLISHED_IN.items())
def test_each_housing(number: str, tir_in: float) -> None:
    assert TirLimit(f"SAE J617 No. {number}").mm == pytest.approx(tir_in * 25.4, abs=1e-12)
    assert TirLimit(f"sae j617 {number}").mm == TirLimit(f"SAE J617 No. {number}").mm


def test_the_range_in_mm() -> None:
    assert TirLimit("SAE J617 No. 6").mm == pytest.approx(0.18, abs=0.005)
    assert TirLimit("SAE J617 No. 00").mm == pytest.approx(0.48, abs=0.005)


def test_a_larger_housing_allows_more() -> None:
    for (bore, tir), (larger, more) in itertools.pairwise(HOUSINGS.values()):
        assert float(bore) < float(larger)
        assert float(tir) < float(more)


def test_a_length_is_still_a_length() -> None:
    assert TirLimit("5 thou").mm == 0.127
    with pytest.raises(InputError, match="has no unit"):
        TirLimit("5")
    with pytest.raises(InputError, match="is not above zero"):
        TirLimit("0 mm")


def test_an_unknown_housing_gets_its_line() -> None:
    worksheet = load("sweep")
    case = {
        "surface": "bore", "unit": "thou", "readings": [[0, 0], [120, 1], [240, 2]],
        "limit": "SAE J617 No. 7",
    }  # fmt: skip
    with pytest.raises(InputError) as caught:
        read(worksheet.case, case)
    assert caught.value.lines == [
        'limit: SAE J617 has no housing "7"; known are 6, 5, 4, 3, 2, 1, 1/2, 0, 00'
    ]


def test_a_sweep_is_judged_by_the_standard() -> None:
    worksheet = load("sweep")
    readings = [[clock, 0.0] for clock in range(0, 360, 45)]
    case = {"surface": "bore", "unit": "mm", "readings": readings, "limit": "SAE J617 No. 1/2"}
    read_case = read(worksheet.case, case)
    assert worksheet.solve(read_case).limit_mm == pytest.approx(0.014 * 25.4)
    assert read_case.model_dump(mode="json")["limit"] == "SAE J617 No. 1/2"


@pytest.mark.parametrize(("highest_in", "verdict"), [(0.008, "within"), (0.0165, "outside")])
def test_the_army_manuals_face(highest_in: float, verdict: str) -> None:
    """US Army TM 5-2815-232-14 and its sisters: the face's TIR is taken at four points, the crank
    pushed to one end of its float before each; a truck engine's limit there is .012 in."""
    worksheet = load("sweep")
    readings = [[180, 0.0], [270, 0.002], [0, highest_in], [90, 0.004]]
    case = {
        "surface": "face", "unit": "in", "readings": readings, "limit": "0.012 in",
        "graduation": "0.001 in", "sweep_radius": "8 in",
    }  # fmt: skip
    answer = worksheet.solve(read(worksheet.case, case))
    assert answer.tir_as_read_mm == pytest.approx(highest_in * 25.4)
    assert answer.verdict == verdict
