"""The conformity worksheet: cases as text against JCGM 106:2012 and ISO 14253-1."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.worksheets.quality.conformity import WORKSHEET, ConformityAnswer, solve
from kitwright.worksheets.reading import from_toml, read


def answered(**case: Any) -> ConformityAnswer:
    return solve(read(WORKSHEET.case, case))


def refusals(**changes: Any) -> list[str]:
    case = {"value": "0.1 mm", "u95": "0.01 mm", "limits": {"high": "0.127 mm"}, **changes}
    with pytest.raises(InputError) as caught:
        solve(read(WORKSHEET.case, {key: value for key, value in case.items() if value != "-"}))
    return caught.value.lines


# ── published and derived values (the volts and ohms of the sources stand as mm) ─────────


def test_jcgm_106_zener_diode() -> None:
    """3.4a: JCGM 106:2012, clause 7: chance printed 0.92 (from memory, recomputed)."""
    answer = answered(value="-5.47 mm", u95="0.10 mm", limits={"high": "-5.40 mm"})
    assert answer.chance_conforms == pytest.approx(0.92, abs=0.005)
    assert answer.chance_conforms == pytest.approx(0.919243, abs=1e-6)
    assert answer.verdict == "too close to call"
    assert answer.guarded_limits.high_mm == pytest.approx(-5.5, abs=1e-12)
    assert answer.guarded_limits.low_mm is None
    assert answer.chance_conforms_given_process is answer.risks is answer.all_parts is None


@pytest.mark.parametrize(
    ("u", "chance"),
    [("0.84", 0.80), ("1.04", 0.85), ("1.28", 0.90), ("1.64", 0.95), ("2.33", 0.99)],
)
def test_jcgm_106_table_1(u: str, chance: float) -> None:
    """3.4c: JCGM 106:2012, Table 1 (from memory, recomputed); z is printed to two decimals."""
    answer = answered(value=f"{u} mm", u95="2 mm", limits={"low": "0 mm"})
    assert answer.chance_conforms == pytest.approx(chance, abs=0.003)


def test_resistor_risks() -> None:
    """3.4d: inputs like JCGM 106:2012, 9.5.4 (from memory); chances derived by integration."""
    answer = answered(
        value="1500.1 mm",
        u95="0.08 mm",
        limits={"low": "1499.8 mm", "high": "1500.2 mm"},
        prior={"mean": "1500 mm", "sigma": "0.12 mm"},
    )
    assert answer.verdict == "within"
    assert answer.risks is not None
    assert answer.all_parts is not None
    assert answer.risks.users_chance == pytest.approx(0.000469, abs=5e-7)
    assert answer.risks.makers_chance == pytest.approx(0.2477, abs=5e-5)
    assert answer.all_parts.conforming_chance == pytest.approx(0.9044, abs=5e-5)
    # Two normals weighed: mean 1500 + 0.1 · 0.9, sigma 0.04 · 0.12/√(0.04² + 0.12²).
    assert answer.chance_conforms_given_process == pytest.approx(0.998127, abs=1e-6)
    assert answer.risks.makers_here_chance == answer.chance_conforms_given_process
    assert answer.risks.users_here_chance == pytest.approx(1 - 0.998127, abs=1e-6)


def test_iso_14253_1_of_2017_is_an_option_by_name() -> None:
    """3.4e: ISO 14253-1:2017, 5.2 (from memory): the guard is 1.645 u, both ways."""
    case = {"value": "0.118 mm", "u95": "0.010 mm", "limits": {"low": "0 mm", "high": "0.127 mm"}}
    full, lesser = answered(**case), answered(**case, rule="guard by 1.645 u")
    assert (full.verdict, lesser.verdict) == ("too close to call", "within")
    assert full.guard_mm == 0.010
    assert lesser.guard_mm == pytest.approx(1.645 * 0.005, rel=1e-14)
    assert lesser.guarded_limits.low_mm == pytest.approx(0.008225, rel=1e-12)
    assert lesser.guarded_limits.high_mm == pytest.approx(0.118775, rel=1e-12)
    assert full.assumed[0].startswith("The guard is the whole expanded uncertainty")
    assert not any("guard" in line for line in lesser.assumed)


def test_full_guard_leaves_2_28_per_cent_and_simple_acceptance_half() -> None:
    """3.4f: Phi(-2) = 0.02275 at the guarded limit; one half at the limit itself."""
    guarded = answered(value="0.75 in", u95="0.25 in", limits={"high": "1 in"})
    assert guarded.verdict == "within"
    assert guarded.chance_outside == pytest.approx(0.02275, abs=1e-5)
    simple = answered(value="1 in", u95="0.25 in", limits={"high": "1 in"})
    assert simple.verdict == "too close to call"
    assert simple.chance_outside == 0.5


# ── properties ───────────────────────────────────────────────────────────────────────────


@given(
    value=st.integers(0, 400),
    u95=st.integers(0, 50),
    limits=st.tuples(st.integers(0, 400), st.integers(0, 400)).map(sorted),
    rule=st.sampled_from(["guard by U", "guard by 1.645 u"]),
)
def test_thou_and_millimetres_decide_alike_at_every_edge(
    value: int, u95: int, limits: list[int], rule: str
) -> None:
    """Whole thou, so that values stand on guarded limits exactly; decided in whole numbers."""
    low, high = limits
    guard_over = 2000 if rule == "guard by U" else 1645  # in 2000ths of u95
    inside = min(value - low, high - value) * 2000
    expected = "too close to call"
    if inside >= guard_over * u95:
        expected = "within"
    elif inside < -guard_over * u95:
        expected = "outside"
    for unit, size in (("thou", 1), ("mm", 0.0254)):
        answer = answered(
            value=f"{value * size:.10g} {unit}",
            u95=f"{u95 * size:.10g} {unit}",
            limits={"low": f"{low * size:.10g} {unit}", "high": f"{high * size:.10g} {unit}"},
            rule=rule,
        )
        assert answer.verdict == expected
        assert answer.guarded_limits.low_mm is not None
        assert answer.guarded_limits.low_mm >= low * 0.0254 - 1e-12
        assert answer.chance_conforms + answer.chance_outside == pytest.approx(1, abs=1e-13)


# ── what is said ─────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("value", "u95", "lead", "sentence"),
    [
        (
            "0.100 mm",
            "0.010 mm",
            "mm",
            "Accept it: 0.100 mm is within the limits, its uncertainty allowed for.",
        ),
        (
            "5.6 thou",
            "0.5 thou",
            "in",
            "Refuse it: 0.0056 in is outside the limits, its uncertainty allowed for.",
        ),
        (
            "0.122 mm",
            "0.010 mm",
            "mm",
            (
                "Too close to call: 0.122 mm is 0.005 mm inside the high limit, and the guard is "
                "0.010 mm. Measure it better, or leave it to the shop's rule for undecided parts."
            ),
        ),
        (
            "-0.003 mm",
            "0.010 mm",
            "mm",
            (
                "Too close to call: −0.003 mm is 0.003 mm beyond the low limit, and the guard is "
                "0.010 mm. Measure it better, or leave it to the shop's rule for undecided parts."
            ),
        ),
        (
            "0.060 mm",
            "0.070 mm",
            "mm",
            (
                "Too close to call: 0.06 mm is 0.060 mm inside the low limit, and the guard is "
                "0.070 mm. With this uncertainty no value can be called within: measure it better."
            ),
        ),
    ],
)
def test_the_answer_in_a_sentence(value: str, u95: str, lead: Any, sentence: str) -> None:
    answer = answered(value=value, u95=u95, limits={"low": "0 mm", "high": "0.127 mm"})
    assert WORKSHEET.say(answer, lead) == sentence


def test_every_default_is_listed() -> None:
    plain = answered(value="1 mm", u95="0 mm", limits={"low": "1 mm"})
    assert plain.verdict == "within"
    assert plain.chance_conforms == 1
    assert [line.split()[0] for line in plain.assumed] == ["The", "The", "Nothing"]
    known = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert known.assumed[-1] == "The process is normal, with the mean and sigma given."


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"limits": {"low": "0.2 mm", "high": "5 thou"}},
            'limits: low "0.2 mm" is above high "5 thou"; swap them',
        ),
        ({"limits": {}}, "limits: neither low nor high given; give low, high or both"),
        ({"limits": "-"}, "limits: missing; it is needed"),
        ({"value": "-"}, "value: missing; it is needed"),
        ({"u95": "-0.01 mm"}, 'u95: "-0.01 mm" is negative; give zero or more'),
        ({"value": float("nan")}, 'value: "nan" is not a length; write "5 thou" or "5 mm"'),
        ({"value": "nan mm"}, 'value: "nan mm" is not a length; write "5 thou" or "5 mm"'),
        ({"value": 0.1}, 'value: "0.1" has no unit; write "0.1 thou" or "0.1 mm"'),
        ({"u95": "0.01"}, 'u95: "0.01" has no unit; write "0.01 thou" or "0.01 mm"'),
        (
            {"limits": {"low": "0.1"}},
            'limits.low: "0.1" has no unit; write "0.1 thou" or "0.1 mm"',
        ),
        (
            {"prior": {"mean": "1 mm", "sigma": "0 mm"}},
            'prior.sigma: "0 mm" is not above zero; give more than zero',
        ),
        (
            {"rule": "guard by hope"},
            "rule: \"guard by hope\" is not known; write 'guard by U' or 'guard by 1.645 u'",
        ),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], line: str) -> None:
    assert refusals(**changes) == [line]


def test_every_fault_is_told_at_once() -> None:
    lines = refusals(value="a", u95="-1 mm", limits={"low": "2 mm", "high": "1 mm"}, rule="?")
    assert [line.split(":")[0] for line in lines] == ["value", "u95", "limits", "rule"]
