"""Conformity against JCGM 106:2012 and ISO 14253-1, independent integrals, and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import chndtr, log_ndtr, ndtr
from scipy.stats import multivariate_normal

from kitwright.calc.quality.conformity import (
    OUTSIDE,
    UNDECIDED,
    WITHIN,
    Prior,
    chance_given_process,
    decide_length,
    decide_position,
    process_risks,
)
from kitwright.errors import InputError

# JCGM 106:2012, clause 7: a Zener diode with an upper limit of -5.40 V, measured -5.47 V with
# u = 0.05 V; conformance probability printed 0.92 (from memory, recomputed).
ZENER = {"value": -5.47, "u95": 0.10, "high": -5.40}

# JCGM 106:2012, Table 1: one-sided conformance probability and z, printed to two decimals
# (from memory, recomputed).
TABLE_1 = [(0.80, 0.84), (0.85, 1.04), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]

# A resistor of 1500 ohm ± 0.2 ohm, process sigma 0.12, u 0.04, both normal, process on nominal:
# inputs like JCGM 106:2012, 9.5.4 (from memory); the chances are derived by integration, not
# printed there. Guard, users' risk, makers' risk.
RESISTOR = {"u95": 0.08, "low": 1499.8, "high": 1500.2, "prior": Prior(mean=1500, sigma=0.12)}
RESISTOR_RISKS = [(0.0, 0.01894, 0.03721), (0.04, 0.00433, 0.1147), (0.08, 0.000469, 0.2477)]

# Circular-normal chances P(r <= k sigma | offset b sigma), as in the tables of DiDonato and
# Jarnagin, Math. Comp. 16 (1962) 347-355 (from memory, recomputed by two methods).
RICE = {
    0.0: {1: 0.393469, 2: 0.864665, 3: 0.988891, 4: 0.999665},
    0.5: {1: 0.357286, 2: 0.830859, 3: 0.982156, 4: 0.999263},
    1.0: {1: 0.267120, 2: 0.730988, 3: 0.956284, 4: 0.997110},
    2.0: {1: 0.081892, 2: 0.396499, 3: 0.785638, 4: 0.965865},
    3.0: {1: 0.010829, 2: 0.113279, 3: 0.432520, 4: 0.803488},
}

sizes = st.floats(-50, 50)
uncertainties = st.floats(0.001, 5)
widths = st.floats(0.001, 20)


# ── published and derived values ─────────────────────────────────────────────────────────


def test_jcgm_106_zener_diode() -> None:
    """3.4a."""
    decided = decide_length(**ZENER)
    assert decided.chance_conforms[0] == pytest.approx(0.92, abs=0.005)
    assert decided.chance_conforms[0] == pytest.approx(0.919243, abs=1e-6)
    assert decided.verdicts.tolist() == ["too close to call"]  # 0.07 from the limit, U is 0.10


@pytest.mark.parametrize(("chance", "z"), TABLE_1)
def test_jcgm_106_table_1(chance: float, z: float) -> None:
    """3.4c: a value z u inside the limit conforms with this chance."""
    below = decide_length(-z, u95=2, high=0).chance_conforms[0]
    above = decide_length(z, u95=2, low=0).chance_conforms[0]
    slope = np.exp(-z * z / 2) / np.sqrt(2 * np.pi)
    assert below == pytest.approx(chance, abs=0.01 * slope)
    assert above == below


@pytest.mark.parametrize(("guard", "users", "makers"), RESISTOR_RISKS)
def test_resistor_risks(guard: float, users: float, makers: float) -> None:
    """3.4d."""
    risks = process_risks(guard=guard, **RESISTOR)
    assert risks.conforms == pytest.approx(0.9044, abs=5e-5)
    assert risks.users == pytest.approx(users, abs=5e-6 if guard else 1e-5, rel=2e-3)
    assert risks.makers == pytest.approx(makers, abs=1e-5, rel=5e-4)


@pytest.mark.parametrize("guard", [0.0, 0.04, 0.08, 0.25])
def test_resistor_risks_against_the_bivariate_normal(guard: float) -> None:
    """The same chances as rectangles of the joint distribution of true value and reading."""
    risks = process_risks(guard=guard, **RESISTOR)
    s2, u2 = 0.12**2, 0.04**2
    joint = multivariate_normal([0, 0], [[s2, s2], [s2, s2 + u2]])

    def rectangle(x: tuple[float, float], y: tuple[float, float]) -> float:
        if y[0] >= y[1]:
            return 0.0
        return float(joint.cdf([x[1], y[1]], lower_limit=[x[0], y[0]]))

    far, band = 9.0, (-0.2 + guard, 0.2 - guard)
    users = rectangle((-far, -0.2), band) + rectangle((0.2, far), band)
    makers = rectangle((-0.2, 0.2), (-far, far)) - rectangle((-0.2, 0.2), band)
    outer = (-0.2 - guard, 0.2 + guard)
    final = rectangle((-0.2, 0.2), (-far, outer[0])) + rectangle((-0.2, 0.2), (outer[1], far))
    assert risks.users == pytest.approx(users, abs=2e-8)
    assert risks.makers == pytest.approx(makers, abs=2e-8)
    assert risks.makers_outside == pytest.approx(final, abs=2e-8)
    assert risks.within == pytest.approx(rectangle((-far, far), band), abs=2e-8)


def test_iso_14253_1_of_2017_leaves_95_per_cent_at_one_limit() -> None:
    """3.4e: ISO 14253-1:2017, 5.2 (from memory): chance 95 %, guard 1.645 u, both ways."""
    decided = decide_length(0.0, u95=0.2, low=0, high=10, rule="guard by 1.645 u")
    assert decided.guarded_low[0] == pytest.approx(0.1645, abs=1e-15)
    assert decided.guarded_high[0] == pytest.approx(9.8355, abs=1e-14)
    edges = decide_length([0.1645, -0.1645], u95=0.2, low=0, rule="guard by 1.645 u")
    np.testing.assert_allclose(edges.chance_conforms, [0.95, 0.05], atol=2e-5)
    beyond = decide_length([-0.17, -0.16, 0.16, 0.17], u95=0.2, low=0, rule="guard by 1.645 u")
    assert beyond.codes.tolist() == [OUTSIDE, UNDECIDED, UNDECIDED, WITHIN]


def test_iso_14253_1_full_guard_leaves_2_28_per_cent() -> None:
    """3.4f: u95 a quarter of the tolerance; Phi(-2) at the guarded limit, half at the limit."""
    decided = decide_length([-0.25, 0.0], u95=0.25, high=0.0)
    assert decided.codes.tolist() == [WITHIN, UNDECIDED]
    np.testing.assert_allclose(decided.chance_outside, [0.02275, 0.5], atol=1e-5)


@pytest.mark.parametrize("b", RICE)
def test_circular_normal_table(b: float) -> None:
    for k, chance in RICE[b].items():
        decided = decide_position(b * 0.6, b * -0.8, u95=2, zone=2 * k)
        assert decided.chance_conforms[0] == pytest.approx(chance, abs=1e-6)
        assert decided.chance_conforms[0] == pytest.approx(chndtr(k * k, 2, b * b), abs=1e-13)


# ── the tails ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("z", [1, 5, 8, 15, 30])
def test_normal_tails_keep_their_figures(z: float) -> None:
    inside = decide_length(0, u95=2, low=z, high=z + 50)
    outside = decide_length(0, u95=2, high=z)
    assert np.log(inside.chance_conforms[0]) == pytest.approx(log_ndtr(-z), rel=1e-13)
    assert np.log(outside.chance_outside[0]) == pytest.approx(log_ndtr(-z), rel=1e-13)


def test_a_narrow_interval_does_not_cancel() -> None:
    chance = decide_length(0, u95=2, low=-1e-12, high=1e-12).chance_conforms[0]
    assert chance == pytest.approx(2e-12 / np.sqrt(2 * np.pi), rel=1e-12, abs=0)


@pytest.mark.parametrize(("b", "limit"), [(0, 8), (0.01, 12), (3, 20), (20, 3), (500, 464), (9, 9)])
def test_circular_tails_against_an_integral_across(b: float, limit: float) -> None:
    """Across the offset the chance is an error function, along it an integral."""

    def along(x: float, scale: float) -> float:
        return float(np.exp(-((x - b) ** 2) / 2 - scale) / np.sqrt(2 * np.pi))

    def inside(x: float, scale: float) -> float:
        half = np.sqrt(limit**2 - x**2)
        return along(x, scale) * float(2 * ndtr(half) - 1)

    def outside(x: float, scale: float) -> float:
        half = np.sqrt(limit**2 - x**2)
        return along(x, scale) * float(2 * ndtr(-half))

    decided = decide_position(0, b, u95=2, zone=2 * limit)
    if b > limit:
        scale = -((b - limit) ** 2) / 2
        value, _ = quad(inside, limit - 3, limit, args=(scale,), epsabs=0, epsrel=1e-12, limit=400)
        found = decided.chance_conforms[0]
    else:
        scale = -((limit - b) ** 2) / 2
        value, _ = quad(outside, -limit, limit, args=(scale,), epsabs=0, epsrel=1e-12, limit=900)
        value += float(np.exp(log_ndtr(b - limit) - scale) + np.exp(log_ndtr(-b - limit) - scale))
        found = decided.chance_outside[0]
    assert np.log(found) == pytest.approx(np.log(value) + scale, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("b", [0.0, 0.4, 2.0])
def test_a_tiny_circle_holds_its_area_times_the_density(b: float) -> None:
    chance = decide_position(b, 0, u95=2, zone=2e-5).chance_conforms[0]
    assert chance == pytest.approx(1e-10 / 2 * np.exp(-b * b / 2), rel=1e-9, abs=0)


# ── simulation ───────────────────────────────────────────────────────────────────────────


def test_simulated_process_agrees() -> None:
    rng = np.random.default_rng(20261124)
    n = 400_000
    prior = Prior(mean=0.08, sigma=0.03)
    true = rng.normal(prior.mean, prior.sigma, n)
    read = true + rng.normal(0, 0.01, n)
    decided = decide_length(read, u95=0.02, low=0.0, high=0.127)
    risks = process_risks(u95=0.02, low=0.0, high=0.127, guard=0.02, prior=prior)
    good = (true >= 0) & (true <= 0.127)
    for found, expected in [
        (decided.codes == WITHIN, risks.within),
        (decided.codes == OUTSIDE, risks.outside),
        (decided.codes == UNDECIDED, risks.undecided),
        ((decided.codes == WITHIN) & ~good, risks.users),
        ((decided.codes != WITHIN) & good, risks.makers),
        ((decided.codes == OUTSIDE) & good, risks.makers_outside),
    ]:
        error = np.sqrt(expected * (1 - expected) / n)
        assert np.mean(found) == pytest.approx(expected, abs=4 * error + 1e-9)
    posterior, _ = chance_given_process(read, u95=0.02, low=0.0, high=0.127, prior=prior)
    error = np.sqrt(np.mean(posterior * (1 - posterior)) / n)
    near = np.abs(read - 0.127) < 0.005
    assert posterior[near].mean() == pytest.approx(good[near].mean(), abs=0.006)
    assert posterior.mean() == pytest.approx(good.mean(), abs=4 * error)


def test_simulated_positions_agree() -> None:
    rng = np.random.default_rng(7)
    x, y = np.array([[0.05], [0.03]]) + rng.normal(0, 0.01, (2, 400_000))
    chance = decide_position(0.05, 0.03, u95=0.02, zone=0.127).chance_conforms[0]
    error = np.sqrt(chance * (1 - chance) / x.size)
    assert np.mean(np.hypot(x, y) <= 0.0635) == pytest.approx(chance, abs=4 * error)


# ── properties ───────────────────────────────────────────────────────────────────────────


@given(value=sizes, u95=uncertainties, low=sizes, width=widths)
def test_mirrored_lengths_are_decided_alike(
    value: float, u95: float, low: float, width: float
) -> None:
    here = decide_length(value, u95=u95, low=low, high=low + width)
    there = decide_length(-value, u95=u95, low=-low - width, high=-low)
    assert here.codes == there.codes
    assert here.chance_conforms[0] == pytest.approx(there.chance_conforms[0], rel=1e-9, abs=1e-300)
    assert here.guarded_low == -there.guarded_high


@given(value=sizes, u95=uncertainties, low=sizes, width=widths, scale=st.sampled_from([25.4, 1e-3]))
def test_the_unit_does_not_matter(
    value: float, u95: float, low: float, width: float, scale: float
) -> None:
    decided = decide_length(
        np.array([value, value * scale]),
        u95=np.array([u95, u95 * scale]),
        low=np.array([low, low * scale]),
        high=np.array([low + width, (low + width) * scale]),
    )
    edges = [low - u95, low + u95, low + width - u95, low + width + u95]
    assume(min(abs(value - edge) for edge in edges) > 1e-9)
    assert decided.codes[0] == decided.codes[1]
    one, other = decided.chance_conforms
    assert one == pytest.approx(other, rel=1e-7, abs=1e-12)


@given(u95=uncertainties, width=widths, rule=st.sampled_from(["guard by U", "guard by 1.645 u"]))
def test_a_rising_value_goes_through_the_outcomes_once(u95: float, width: float, rule: str) -> None:
    values = np.linspace(-2 * u95, width + 2 * u95, 801)
    upper = decide_length(values, u95=u95, high=width, rule=rule)  # type: ignore[arg-type]
    assert (np.diff(upper.codes) <= 0).all()
    assert (np.diff(upper.chance_conforms) <= 0).all()
    both = decide_length(values, u95=u95, low=0, high=width, rule=rule)  # type: ignore[arg-type]
    beyond_the_middle = both.chance_outside[values >= width / 2]
    assert (np.diff(beyond_the_middle) >= 0).all()
    np.testing.assert_allclose(both.chance_conforms + both.chance_outside, 1, atol=1e-14)


@given(value=sizes, u95=uncertainties, more=st.floats(1, 5), low=sizes, width=widths)
def test_a_guard_never_widens_and_a_larger_one_only_takes_away(
    value: float, u95: float, more: float, low: float, width: float
) -> None:
    high = low + width
    for rule in ("guard by U", "guard by 1.645 u"):
        one = decide_length(value, u95=u95, low=low, high=high, rule=rule)  # type: ignore[arg-type]
        assert one.guarded_low[0] >= low
        assert one.guarded_high[0] <= high
        if one.codes[0] == WITHIN:
            assert low <= value <= high
        if one.codes[0] == OUTSIDE:
            assert value < low or value > high
        larger = decide_length(value, u95=u95 * more, low=low, high=high, rule=rule)  # type: ignore[arg-type]
        assert larger.codes[0] in (UNDECIDED, one.codes[0])
    full = decide_length(value, u95=u95, low=low, high=high)
    lesser = decide_length(value, u95=u95, low=low, high=high, rule="guard by 1.645 u")
    assert full.codes[0] in (UNDECIDED, lesser.codes[0])


@given(
    r=st.floats(0, 5), turn=st.floats(0, 7), u95=uncertainties, zone=widths, grow=st.floats(1.01, 3)
)
def test_positions_turn_freely_and_suffer_from_distance(
    r: float, turn: float, u95: float, zone: float, grow: float
) -> None:
    decided = decide_position(
        np.array([r, r * np.cos(turn), r * grow]),
        np.array([0, r * np.sin(turn), 0]),
        u95=u95,
        zone=zone,
    )
    chances = decided.chance_conforms
    assert chances[1] == pytest.approx(chances[0], rel=1e-9, abs=1e-300)
    assert chances[2] <= chances[0] * (1 + 1e-12)
    assert decided.codes[2] <= decided.codes[0]
    np.testing.assert_allclose(chances + decided.chance_outside, 1, atol=1e-13)
    # Whatever is certain along the line is less certain in the plane.
    assert chances[0] <= decide_length(r, u95=u95, low=-zone / 2, high=zone / 2).chance_conforms


@given(
    mean=st.floats(-1, 1),
    sigma=uncertainties,
    u95=uncertainties,
    width=widths,
    guard=st.floats(0, 6),
)
def test_risks_add_up_and_guards_trade_one_for_the_other(
    mean: float, sigma: float, u95: float, width: float, guard: float
) -> None:
    prior = Prior(mean=mean, sigma=sigma)
    plain = process_risks(u95=u95, low=-width, high=width, guard=0, prior=prior)
    held = process_risks(u95=u95, low=-width, high=width, guard=guard, prior=prior)
    for risks in (plain, held):
        assert risks.within + risks.outside + risks.undecided == pytest.approx(1, abs=1e-12)
        # Of what conforms, all that is not a maker's loss is called within.
        assert risks.within - risks.users == pytest.approx(risks.conforms - risks.makers, abs=1e-12)
        assert 0 <= risks.makers_outside <= risks.makers <= risks.conforms + 1e-12
    assert plain.undecided == 0
    assert held.users <= plain.users + 1e-15
    assert held.makers >= plain.makers - 1e-15


def test_a_wide_prior_teaches_nothing_and_a_sharp_one_everything() -> None:
    loose, _ = chance_given_process(**ZENER, prior=Prior(mean=0, sigma=1e6))
    assert loose[0] == pytest.approx(0.919243, abs=1e-6)
    sharp = chance_given_process(**ZENER, prior=Prior(mean=-5.3, sigma=1e-6))
    assert (sharp[0][0], sharp[1][0]) == (0, 1)
    equal, _ = chance_given_process(0.0, u95=2, high=1.0, prior=Prior(mean=1.0, sigma=1.0))
    assert equal[0] == pytest.approx(ndtr(0.5 * np.sqrt(2)), abs=1e-15)  # half way, sigma/√2


# ── at the edges ─────────────────────────────────────────────────────────────────────────


def test_without_uncertainty_a_limit_includes_its_value() -> None:
    decided = decide_length([0.126, 0.127, 0.128], u95=0, low=0, high=0.127)
    assert decided.verdicts.tolist() == ["within", "within", "outside"]
    assert decided.chance_conforms.tolist() == [1, 1, 0]
    assert decided.chance_outside.tolist() == [0, 0, 1]
    round_ = decide_position([0.06, 0.0635, 0.064], 0, u95=0, zone=0.127)
    assert round_.verdicts.tolist() == ["within", "within", "outside"]
    assert round_.chance_conforms.tolist() == [1, 1, 0]
    risks = process_risks(u95=0, high=0.127, guard=0, prior=Prior(mean=0.1, sigma=0.02))
    assert (risks.users, risks.makers, risks.undecided) == (0, 0, 0)
    assert risks.within == pytest.approx(ndtr(1.35), abs=1e-15)
    known, _ = chance_given_process([0.127, 0.13], u95=0, high=0.127, prior=Prior(mean=0, sigma=1))
    assert known.tolist() == [1, 0]


@pytest.mark.parametrize(
    ("value", "high", "u95"), [(0.2, 0.3, 0.1), (0.122, 0.127, 0.005), (124.012, 124.03, 0.018)]
)
def test_a_value_on_the_guarded_limit_is_within_as_on_paper(
    value: float, high: float, u95: float
) -> None:
    """0.3 - 0.1 falls short of 0.2 in binary; the case is decided as it is written."""
    step = 1e-9
    decided = decide_length([value, value + step], u95=u95, high=high)
    assert decided.codes.tolist() == [WITHIN, UNDECIDED]
    out = decide_length([high + u95, high + u95 + step], u95=u95, high=high)
    assert out.codes.tolist() == [UNDECIDED, OUTSIDE]
    assert decide_length([-value], u95=u95, low=-high).codes.tolist() == [WITHIN]


def test_limits_nearer_than_twice_the_guard_leave_no_value_within() -> None:
    decided = decide_length([0, 0.5, 1, 2.1], u95=0.6, low=0, high=1)
    assert (decided.guarded_low > decided.guarded_high).all()
    assert decided.codes.tolist() == [UNDECIDED, UNDECIDED, UNDECIDED, OUTSIDE]
    small = decide_position([0, 1.3], 0, u95=0.6, zone=1)
    assert small.guarded_offset[0] < 0
    assert small.codes.tolist() == [UNDECIDED, OUTSIDE]


def test_a_table_of_bells_is_decided_in_one_call() -> None:
    decided = decide_length([[1.0, 5.0], [1.2, 9.0]], u95=[0.1, 0.5], low=[0.9, 4], high=[1.3, 6])
    assert decided.verdicts.tolist() == [["within", "within"], ["within", "outside"]]
    assert decided.guarded_low.shape == decided.chance_conforms.shape == (2, 2)
    empty = decide_position([], [], u95=0.1, zone=1)
    assert empty.codes.shape == (0,)


def test_great_sizes_do_not_overflow() -> None:
    decided = decide_position([1e300, 1e9], [0, 0], u95=[1e-300, 2], zone=[1, 2e9 + 6])
    np.testing.assert_allclose(decided.chance_outside, [1, ndtr(-3)], rtol=1e-8)
    assert decide_length(1e300, u95=1e-300, low=-1e300).chance_conforms.tolist() == [1]


@pytest.mark.parametrize(
    ("case", "line"),
    [
        ({"low": 2, "high": 1}, "low: 2 is above the high limit; swap the limits"),
        ({}, "limits: -inf has neither low nor high; give low, high or both"),
        ({"u95": -0.1, "low": 0}, "u95: -0.1 is negative; give zero or more"),
        ({"u95": np.inf, "low": 0}, "u95: inf is not finite; give the expanded uncertainty"),
        ({"value": np.nan, "low": 0}, "value: nan is not finite; measure it again"),
        ({"value": [1, 2, np.nan], "low": 0}, "value[2]: nan is not finite; measure it again"),
        ({"low": np.nan}, "low: nan is not a limit; give a number"),
        ({"high": -np.inf}, "high: -inf is not a limit; give a number"),
        (
            {"low": 0, "rule": "guard by hope"},
            'rule: "guard by hope" is not known; write guard by U or guard by 1.645 u',
        ),
        (
            {"value": [1, 2, 3], "u95": [1, 1], "low": 0},
            (
                "value: shapes do not agree: value (3,), u95 (2,), low (1,), high (1,); "
                "give one of each"
            ),
        ),
    ],
)
def test_what_cannot_be_decided_says_why(case: dict[str, object], line: str) -> None:
    with pytest.raises(InputError) as caught:
        decide_length(**{"value": 1.0, "u95": 0.1, **case})  # type: ignore[arg-type]
    assert caught.value.lines == [line]


@pytest.mark.parametrize(
    ("case", "line"),
    [
        ({"zone": 0}, "zone: 0 is not above zero; give more than zero"),
        ({"x": np.nan}, "x: nan is not finite; measure it again"),
        ({"u95": -1}, "u95: -1 is negative; give zero or more"),
    ],
)
def test_a_position_that_cannot_be_decided_says_why(case: dict[str, float], line: str) -> None:
    with pytest.raises(InputError) as caught:
        decide_position(**{"x": 0.1, "y": 0.0, "u95": 0.1, "zone": 1.0, **case})
    assert caught.value.lines == [line]


def test_a_process_needs_a_spread_and_a_guard_of_zero_or_more() -> None:
    with pytest.raises(InputError, match=r"prior.sigma: 0 is not above zero"):
        Prior(mean=1, sigma=0)
    with pytest.raises(InputError, match=r"prior.mean: nan is not a number"):
        Prior(mean=np.nan, sigma=1)
    with pytest.raises(InputError, match="guard: -1 is negative"):
        process_risks(u95=1, low=0, guard=-1, prior=Prior(mean=0, sigma=1))
