"""The block-population worksheet: cases as text, the budget it feeds, refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from kitwright.errors import InputError
from kitwright.worksheets.centring.block_population import WORKSHEET, solve
from kitwright.worksheets.centring.block_population_case import BlockPopulationAnswer
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures, grids

EXAMPLE = from_toml(WORKSHEET.example)
MM = 0.0254 * np.array(EXAMPLE["samples"])
ONE_WAY = [[0.1, 3], [-0.2, -4], [0.2, 1], [0, -1], [-0.1, 5], [0.15, -6], [-0.05, 2], [0.1, -2]]


def answered(**changes: Any) -> BlockPopulationAnswer:
    return solve(read(WORKSHEET.case, {**EXAMPLE, **changes}))


def refusals(**changes: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**changes)
    return caught.value.lines


def test_the_example_by_numpy_and_scipy() -> None:
    answer, n = answered(), len(MM)
    assert answer.count == n
    assert [answer.mean_x_mm, answer.mean_y_mm] == pytest.approx(MM.mean(axis=0), abs=1e-15)
    half = stats.t.interval(0.95, n - 1)[1] * stats.sem(MM)
    assert [answer.mean_x_half_mm, answer.mean_y_half_mm] == pytest.approx(half, rel=1e-9)
    cov = np.cov(MM.T)
    assert answer.covariance_mm2 == pytest.approx([cov[0, 0], cov[0, 1], cov[1, 1]], rel=1e-9)
    pooled = np.trace(cov) / 2
    low, high = (2 * (n - 1) * pooled / stats.chi2.ppf([0.975, 0.025], 2 * (n - 1))) ** 0.5
    zone = answer.zone_mm
    assert [zone.value_mm, zone.low_mm, zone.high_mm] == pytest.approx(
        [6 * pooled**0.5, 6 * low, 6 * high], rel=1e-9
    )
    assert answer.sigma_mm.value_mm == pytest.approx(zone.value_mm / 6, rel=1e-12)
    largest, quantile = np.linalg.eigvalsh(cov)[-1], stats.f.ppf(0.95, 2, n - 2)
    t2 = 2 * (n - 1) / (n - 2) * quantile
    assert answer.mean_region.long_mm == pytest.approx((t2 / n * largest) ** 0.5, rel=1e-9)
    assert answer.prediction_region.long_mm == pytest.approx(
        (t2 * (1 + 1 / n) * largest) ** 0.5, rel=1e-9
    )
    assert answer.shifted
    assert answer.even
    assert answer.noise_share == pytest.approx((0.25 * 0.0254) ** 2 / pooled, rel=1e-9)


def test_sweeps_less_bells_are_samples() -> None:
    bells = np.tile([[0.5, -0.25], [-1.0, 0.75]], (6, 1))
    swept = (np.array(EXAMPLE["samples"]) + bells).tolist()
    answer = answered(samples=None, sweeps=swept, bells=bells.tolist())
    plain = answered()
    assert answer.mean_y_mm == pytest.approx(plain.mean_y_mm, rel=1e-12)
    assert answer.chance_outside is not None
    assert plain.chance_outside is not None
    assert answer.chance_outside.high_chance == pytest.approx(
        plain.chance_outside.high_chance, rel=1e-9
    )
    assert [row.x_mm for row in answer.samples] == pytest.approx(MM[:, 0], abs=1e-15)


@pytest.mark.parametrize("samples", [EXAMPLE["samples"], ONE_WAY])
def test_the_contributors_go_into_a_radial_budget(samples: list[list[float]]) -> None:
    """Pasted as it is, the budget's mean and chance are those of the next block's normal law."""
    answer = answered(samples=samples, accuracy=None, half_width=None)
    budget = load("radial-budget")
    case = read(budget.case, from_toml(f'limit = "5 thou"\n{answer.contributors}\n'))
    kinds = [part.kind for part in case.contributors]
    assert kinds == (["shift", "zone"] if answer.even else ["shift", "zone", "line"])
    assert answer.even is (samples is not ONE_WAY)
    found = budget.solve(case)
    assert found.mean_offset_mm == pytest.approx(answer.mean_mm, rel=1e-5)
    n = len(samples)
    cov = np.cov((0.0254 * np.array(samples)).T)
    cov = np.trace(cov) / 2 * np.eye(2) / (n - 2) if answer.even else cov / (n - 4)
    law = stats.multivariate_normal(
        [answer.mean_x_mm, answer.mean_y_mm], (1 + 1 / n) * (n - 1) * cov
    )
    outside = np.hypot(*law.rvs(400_000, random_state=2).T) > 0.0635
    assert found.chance_outside == pytest.approx(outside.mean(), abs=0.003)
    if answer.even:  # the next block's own law, a t, has longer tails, but hardly
        assert found.chance_outside == pytest.approx(answer.chance_outside_next, abs=0.02)


def test_a_line_that_points_up_and_down() -> None:
    answer = answered(samples=ONE_WAY)
    clock = answer.prediction_region.clock_deg
    assert min(clock, 180 - clock) < 3
    assert any("not the same in every direction" in note for note in answer.notes)
    assert any("mean of zero is not ruled out" in note for note in answer.notes)
    assert "show no common shift" in WORKSHEET.say(answer, "in")


def test_what_is_asked_is_answered() -> None:
    bare = answered(limit=None, u95=None, half_width=None, accuracy=None)
    for name in (
        "chance_outside", "chance_outside_next", "noise_share", "more_for_mean",
        "more_for_accuracy", "limit_mm", "seed",
    ):  # fmt: skip
        assert getattr(bare, name) is None
    whole = answered()
    assert whole.more_for_mean is not None
    assert whole.more_for_mean > 0
    assert answered(half_width="1 in").more_for_mean == 0
    assert whole.more_for_accuracy is not None
    wider = answered(accuracy=0.2)
    assert wider.more_for_accuracy is not None
    assert wider.more_for_accuracy < whole.more_for_accuracy


def test_what_cannot_be_had_is_said() -> None:
    answer = answered(half_width="1 µm", accuracy=None, samples=[[1e3, 0], [-1e3, 3], [0, 1e3]])
    assert answer.more_for_mean is None
    assert answer.notes[-1] == "More than 1,000,000 fit-ups would be needed for what is wanted."


def test_three_samples_are_answered_honestly() -> None:
    three = answered(samples=EXAMPLE["samples"][:3], accuracy=None, half_width=None)
    assert any("3 fit-ups are few" in note for note in three.notes)
    assert three.mean_region.long_mm > 10 * three.sigma_mm.value_mm
    assert three.zone_mm.high_mm > 2 * three.zone_mm.value_mm
    assert not any("fit-ups are few" in note for note in answered().notes)


def test_the_few_are_as_few_as_is_said() -> None:
    """Ten: upper limit of the spread 1.48, half axis of the mean's region 1.001 deviations."""
    for n, less in ((10, True), (9, False)):
        degrees = 2 * (n - 1)
        upper = np.sqrt(degrees / stats.chi2.ppf(0.025, degrees))
        region = np.sqrt(2 * (n - 1) / (n - 2) * stats.f.ppf(0.95, 2, n - 2) / n)
        assert (upper <= 1.5, round(float(region), 1) <= 1.0) == (less, less)


def test_a_wild_sample_and_a_noise_too_large_are_noted() -> None:
    wild = answered(samples=[*EXAMPLE["samples"], [9.0, 3.0]])
    assert [row.number for row in wild.suspects] == [13]
    assert "Look at sample 13 again: it lies too far off for the others." in wild.notes
    assert answered(u95="4 thou").notes[-1].startswith("Measuring alone would spread more")
    assert answered().suspects == answered().notes == []


def test_it_is_said_in_a_sentence() -> None:
    assert WORKSHEET.say(answered(accuracy=None), "in").startswith(
        "By 12 fit-ups line-honed blocks put a true bell's bore 2.5 thou toward 6 o'clock, in a "
        "zone of 3.7 thou (2.8 thou to 5.2 thou). The next one is outside 5 thou TIR with a chance "
    )
    assert WORKSHEET.say(answered(block=None, limit=None, accuracy=None), "mm") == (
        "By 12 fit-ups these blocks put a true bell's bore 0.064 mm toward 6 o'clock, in a zone "
        "of 0.094 mm (0.072 mm to 0.132 mm)."
    )


def test_nothing_is_subtracted_and_that_is_said() -> None:
    assumed = " ".join(answered().assumed)
    assert "adds neither again" in assumed
    assert "taken off nothing" in assumed
    assert answered(u95="0.1 thou").zone_mm == answered(u95=None).zone_mm


def test_what_a_person_sees() -> None:
    answer = answered(samples=[*EXAMPLE["samples"], [9.0, 3.0]])
    labels = {figure.label: figure.leading for figure in figures(answer, lead="in")}
    assert labels["Shift beyond chance"] == "yes"
    assert labels["More fit-ups for the mean"].isdigit()
    assert labels["More fit-ups for the chance"].isdigit()
    assert [grid.name for grid in grids(answer, lead="in")] == ["suspects", "notes"]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"samples": None}, "samples: missing; give them, or sweeps and bells"),
        (
            {"bells": [[1, 2]]},
            "samples: given beside sweeps or bells; give one or the other",
        ),
        (
            {"samples": None, "sweeps": [[1, 2], [2, 3]], "bells": [[0, 0]]},
            "bells: 1 given; give one for each sweep: 2",
        ),
        ({"samples": EXAMPLE["samples"][:2]}, "samples: 2 given; give 3 or more"),
        ({"limit": None}, "limit: missing; a chance is asked for: give the TIR allowed"),
        ({"unit": "furlong"}, 'unit: "furlong" is not a unit; known are '),
        ({"accuracy": 0}, 'accuracy: "0" is out of range; give a number greater than 0'),
        ({"half_width": "0 mm"}, 'half_width: "0 mm" is not above zero; give more than zero'),
        ({"block": "old"}, "block: \"old\" is not known; write 'new' or 'line-honed'"),
        ({"samples": [[1, "2"], [1, 3], [2, 3]]}, 'samples[0][1]: "2" is not a number'),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], line: str) -> None:
    assert refusals(**changes)[0].startswith(line)
