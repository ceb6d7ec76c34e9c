"""Gauge studies against AIAG's example, NIST's certified values and published mixed models."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from kitwright.calc.checks import Floats
from kitwright.calc.quality.gauge_ranges import by_ranges, d2_star
from kitwright.calc.quality.gauge_study import GaugeStudy, Line, by_variance, one_person
from kitwright.errors import InputError

PUBLISHED: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "gauge_studies.toml").read_text("utf-8")
)


def aiag() -> Floats:
    """Parts by persons by trials."""
    trials = np.array([PUBLISHED["aiag"][person] for person in "ABC"])
    return trials.transpose(2, 0, 1)


def machines() -> Floats:
    return np.stack([np.array(PUBLISHED["machines"][name]) for name in "ABC"], axis=1)


def line(study: GaugeStudy, source: str, *, before: bool = False) -> Line:
    lines = study.before_pooling if before else study.table
    return next(each for each in lines if each.source == source)


def rows_of(table: list[list[float]]) -> GaugeStudy:
    values = np.array(table)
    return one_person(values.ravel(), np.full(len(values), values.shape[1]))


# ── published values ─────────────────────────────────────────────────────────────────────


def test_aiag_sums_of_squares() -> None:
    """AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III B (from memory)."""
    study = by_variance(aiag())
    squares = {each.source: each.squares for each in study.before_pooling}
    degrees = {each.source: each.degrees for each in study.before_pooling}
    assert squares == pytest.approx(
        {
            "part": 88.3619,
            "person": 3.1673,
            "part and person": 0.3590,
            "repeat": 2.7589,
            "all": 94.6471,
        },
        abs=1e-4,
    )
    assert degrees == {"part": 9, "person": 2, "part and person": 18, "repeat": 60, "all": 89}
    crossed = line(study, "part and person", before=True)
    assert (crossed.f, crossed.p) == pytest.approx((0.43372, 0.97411), abs=1e-5)


def test_aiag_with_the_interaction_pooled() -> None:
    """AIAG, 4th ed. (2010), ch. III B (from memory): F 245.614, 39.617; EV, AV, GRR, PV, TV."""
    study = by_variance(aiag())
    assert study.pooled is True
    assert line(study, "part").f == pytest.approx(245.614, abs=5e-4)
    assert line(study, "person").f == pytest.approx(39.617, abs=5e-4)
    spread = study.spread
    assert spread.interaction is None
    assert [spread.repeatability, spread.reproducibility, spread.gauge, spread.part] == (
        pytest.approx([0.199933, 0.226838, 0.302373, 1.042327], abs=2e-6)
    )
    assert spread.total == pytest.approx(1.085, abs=5e-4)
    assert 100 * spread.gauge / spread.total == pytest.approx(27.9, abs=0.05)
    assert spread.categories == 4


def test_aiag_with_the_interaction_kept() -> None:
    """Derived: EV .214435, AV .228304; the interaction's variance, -.00868, counts as zero."""
    spread = by_variance(aiag(), pooled_above=1.0).spread
    assert [spread.repeatability, spread.reproducibility] == pytest.approx(
        [0.214435, 0.228304], abs=1e-6
    )
    assert spread.interaction == 0


def test_aiag_by_averages_and_ranges() -> None:
    """AIAG, 4th ed. (2010), ch. III B, read in three copies.

    Printed with factors rounded to four decimals (K3 .3146 of 3.511 is good to 1.8e-4).
    """
    found = by_ranges(aiag())
    assert list(found.ranges_by_person) == pytest.approx([0.184, 0.513, 0.328], abs=5e-4)
    assert [found.mean_range, found.persons_range, found.parts_range] == pytest.approx(
        [0.3417, 0.4447, 3.511], abs=5e-4
    )
    spread = found.spread
    printed = [0.20188, 0.22963, 0.30575, 1.10456, 1.14610]
    ours = [spread.repeatability, spread.person, spread.gauge, spread.part, spread.total]
    assert ours == pytest.approx(printed, abs=1.8e-4)
    ranges = [0.341667, 0.444667, 3.511111]  # recomputed; then with the printed factors:
    assert spread.repeatability == pytest.approx(ranges[0] * 0.5908, abs=2e-5)
    assert spread.part == pytest.approx(ranges[2] * 0.3146, abs=1.8e-4)
    shares = [100 * each / spread.total for each in ours[:4]]  # type: ignore[operator]
    assert shares == pytest.approx([17.62, 20.04, 26.68, 96.38], abs=0.02)
    assert spread.categories == 5
    assert found.beyond == ((3, 1),)  # .01, 1.03, .20: a range of 1.02
    assert found.range_limit == pytest.approx(0.3417 * 2.574, abs=2e-3)


def test_constants_of_averages_and_ranges() -> None:
    """AIAG: K1 .5908 (3 trials), .8862 (2); K2 .5231 (3 persons), .7071 (2); K3 .3146 (10)."""
    k = [1 / d2_star(3, 1), 1 / d2_star(2, 1), 1 / d2_star(10, 1)]
    assert k == pytest.approx([0.5231, 0.7071, 0.3146], abs=5e-5)
    assert [1 / d2_star(3, 10**9), 1 / d2_star(2, 10**9)] == pytest.approx(
        [0.5908, 0.8862], abs=5e-5
    )


def test_machines_keep_their_interaction() -> None:
    """Pinheiro and Bates (2000), 1.3 (from memory): sigmas 4.781, 3.730, .9616; machine means."""
    table = machines()
    study = by_variance(table)
    assert study.pooled is False
    spread = study.spread
    assert [spread.part, spread.interaction, spread.repeatability] == pytest.approx(
        [4.781051, 3.729538, 0.961577], abs=1e-6
    )
    assert table.mean(axis=(0, 2)).tolist() == pytest.approx([52.36, 60.32, 66.27], abs=5e-3)
    assert spread.person is not None
    assert spread.reproducibility == pytest.approx(np.hypot(spread.person, 3.729538), abs=1e-5)


def test_rail_one_way() -> None:
    """Pinheiro and Bates (2000), 1.1 (from memory): mean 66.5, sigma rail 24.805, rest 4.0208."""
    spread = rows_of(PUBLISHED["rail"]["times"]).spread
    assert [spread.part, spread.repeatability] == pytest.approx([24.805465, 4.020779], abs=1e-6)
    assert spread.person is spread.reproducibility is None
    assert spread.gauge == spread.repeatability


def test_nist_sirstv_to_its_certified_digits() -> None:
    """NIST StRD SiRstv: certified F, residual standard deviation, R squared, sums of squares."""
    told = PUBLISHED["sirstv"]
    study = rows_of(told["resistance"])
    part, repeat, total = study.table
    assert part.f == pytest.approx(told["f"], rel=1e-10)
    assert study.spread.repeatability == pytest.approx(told["residual_sigma"], rel=1e-12)
    assert part.squares / total.squares == pytest.approx(told["r_squared"], rel=1e-10)
    assert part.squares == pytest.approx(told["between_squares"], rel=1e-10)
    assert repeat.squares == pytest.approx(told["within_squares"], rel=1e-12)
    assert (part.degrees, repeat.degrees) == (4, 20)


def test_nist_resistivity_between_days_and_runs() -> None:
    """NIST e-Handbook 2.6.3: s2 .0362 with 50 degrees (days), s3 .0197 with 5 (runs)."""
    runs = [PUBLISHED["resistivity"][name] for name in ("first_run", "second_run")]
    days = rows_of(runs[0] + runs[1])
    assert days.spread.repeatability == pytest.approx(0.0362, abs=5e-5)
    assert days.repeat_degrees == 50
    between = rows_of(np.array(runs).mean(axis=2).T.tolist())
    assert between.spread.repeatability == pytest.approx(0.0197, abs=6e-5)  # .01965
    assert between.repeat_degrees == 5


# ── properties ───────────────────────────────────────────────────────────────────────────

whole = st.integers(-1000, 1000).map(float)
tables = st.tuples(st.integers(2, 5), st.integers(2, 4), st.integers(1, 4)).flatmap(
    lambda shape: arrays(float, shape, elements=whole)
)


def spreads(study: GaugeStudy) -> list[float | None]:
    spread = study.spread
    return [spread.repeatability, spread.person, spread.interaction, spread.part]


@given(table=tables, scale=st.sampled_from([0.0254, 2.0, 64.0]), shift=st.integers(-99, 99))
def test_squares_add_up_and_units_do_not_matter(table: Floats, scale: float, shift: int) -> None:
    """Sums of squares and degrees add up; a change of unit or zero changes the sigmas alike."""
    try:
        study = by_variance(table)
    except InputError:
        with pytest.raises(InputError, match="finer step"):
            by_variance(table * scale)
        return
    for lines in (study.table, study.before_pooling):
        if lines:
            *parts, total = lines
            assert sum(each.squares for each in parts) == pytest.approx(total.squares, rel=1e-9)
            assert sum(each.degrees for each in parts) == total.degrees == table.size - 1
    turned = by_variance(table[::-1, ::-1, ::-1] * scale + shift)
    for ours, theirs in zip(spreads(study), spreads(turned), strict=True):
        assert (ours is None) == (theirs is None)
        if ours is not None and theirs is not None:
            assert theirs == pytest.approx(ours * scale, rel=1e-6, abs=1e-5)


def test_expected_mean_squares_are_unbiased() -> None:
    """The mean of many simulated studies' components is what they were drawn with."""
    rng = np.random.default_rng(5)
    shape, sigmas = (8, 4, 3), (1.0, 0.5, 0.4, 0.3)
    found = []
    for _ in range(600):
        part, person, crossed, repeat = (
            sigma * rng.standard_normal(size)
            for sigma, size in zip(sigmas, ((8, 1, 1), (1, 4, 1), (8, 4, 1), shape), strict=True)
        )
        study = by_variance(part + person + crossed + repeat, pooled_above=1.0)
        mean = {each.source: each.mean_square or 0 for each in study.table}
        found.append(
            (
                (mean["part"] - mean["part and person"]) / 12,
                (mean["person"] - mean["part and person"]) / 24,
                (mean["part and person"] - mean["repeat"]) / 3,
                mean["repeat"],
            )
        )
        spread = study.spread
        assert [spread.part, spread.person, spread.interaction, spread.repeatability] == (
            pytest.approx(np.sqrt(np.maximum(found[-1], 0)).tolist())
        )
    error = np.std(found, axis=0) / np.sqrt(len(found))
    assert (np.abs(np.mean(found, axis=0) - np.square(sigmas)) < 4 * error).all()


def test_one_person_with_unequal_counts() -> None:
    """n0 = (N - sum(n²)/N)/(k - 1), by hand: 1, 2, 6 | 3, 5: means 3 and 4, n0 = 5 - 13/5."""
    study = one_person(np.array([1.0, 2, 6, 3, 5]), np.array([3, 2]))
    assert study.spread.repeatability == pytest.approx(np.sqrt(16 / 3))
    assert study.spread.part == 0
    apart = one_person(np.array([1.0, 2, 6, 13, 15]), np.array([3, 2]))
    squares = 3 * 4.4**2 + 2 * 6.6**2
    assert apart.spread.part == pytest.approx(np.sqrt((squares - 16 / 3) / 2.4))


def test_one_trial_takes_the_interaction_for_repeats() -> None:
    study = by_variance(aiag()[:, :, :1])
    assert study.pooled is None
    assert study.before_pooling == ()
    assert [each.source for each in study.table] == ["part", "person", "repeat", "all"]
    assert study.repeat_degrees == 18
    # Two-way without replication: the residual of the additive model.
    one = aiag()[:, :, 0]
    rest = one - one.mean(0) - one.mean(1, keepdims=True) + one.mean()
    assert study.spread.repeatability == pytest.approx(np.sqrt((rest**2).sum() / 18))


def test_interval_of_the_repeatability() -> None:
    """Chi-square with 10 degrees: 2.5 % and 97.5 % points 3.247 and 20.483 (any table)."""
    study = rows_of([[1.0, 2.0, 4.0], [2, 3, 3], [5, 4, 4], [7, 7, 8], [1, 3, 2]])
    low, high = study.repeatability_within(0.95)
    sigma = study.spread.repeatability
    assert (low / sigma, high / sigma) == pytest.approx(
        (np.sqrt(10 / 20.483), np.sqrt(10 / 3.247)), rel=1e-4
    )


def test_a_range_out_of_line_is_named() -> None:
    table = aiag()
    table[4, 1, 2] += 2.0
    assert by_ranges(table).beyond == ((3, 1), (4, 1))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (np.ones((1, 3, 2)), "1 parts, 3 persons"),
        (np.arange(4.0).reshape(2, 2, 1) * np.ones((2, 2, 2)), "no repeat differs"),
        (np.full((2, 2, 2), 1e6), "no repeat differs"),
        (np.arange(3.0)[:, None, None] + np.zeros((3, 2, 1)), "no person differs"),
    ],
)
def test_what_cannot_be_analysed_says_why(table: Floats, words: str) -> None:
    with pytest.raises(InputError, match=words):
        by_variance(table)


def test_one_person_needs_repeats_and_parts() -> None:
    with pytest.raises(InputError, match="measure every part again"):
        one_person(np.array([1.0, 2.0]), np.array([1, 1]))
    with pytest.raises(InputError, match="two parts or more"):
        one_person(np.array([1.0, 2.0]), np.array([2]))
    with pytest.raises(InputError, match="give two of each"):
        by_ranges(np.ones((3, 2, 1)))
    with pytest.raises(InputError, match="1 parts"):
        by_ranges(np.ones((1, 2, 3)))
    least = by_ranges(np.array([[[1.0, 1.2]], [[2.0, 2.2]]]))
    assert (least.mean_range, least.parts_range) == (pytest.approx(0.2), pytest.approx(1.0))
