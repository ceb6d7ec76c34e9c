"""The containment worksheet: energies as practice has them, walls side by side, what it refuses."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.shell.perforation import speed_left_m_s
from kitwright.errors import InputError
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.shell.containment import WORKSHEET, solve
from kitwright.worksheets.shell.containment_case import WALL_STOCK, ContainmentAnswer

WALL = {"name": "bell", "material": "cast A356-T6", "thickness": "8 mm"}
PLATE = {"name": "plate", "material": "mild steel", "thickness": "1/4 in", "span": "100 mm"}
DISC = {"mass_kg": 9.0, "outer_radius": "150 mm", "speed_rpm": 7000.0}


def answered(**changed: Any) -> ContainmentAnswer:
    case = {**DISC, "walls": [WALL, PLATE], **changed}
    answer = solve(read(WORKSHEET.case, {k: v for k, v in case.items() if v is not None}))
    assert isinstance(answer, ContainmentAnswer)
    return answer


def test_a_third_as_practice_has_it() -> None:
    """Derived from mechanics after FAA AC 20-128A: 5512.5 J of 27.20 kJ, at 0.551 of the radius."""
    answer = answered()
    assert answer.fragment_energy_j == pytest.approx(5512.5, abs=0.5)
    assert answer.disc_energy_j == pytest.approx(27_203, abs=1)
    assert answer.rim_speed_m_s == pytest.approx(7000 * math.pi / 30 * 0.15)
    assert [each.spread_deg for each in answer.fragments] == [None, 3, 5, 15]
    third = answer.fragments[1]
    assert third.fragment_energy_j == answer.fragment_energy_j
    assert third.speed_m_s == pytest.approx(answer.rim_speed_m_s * 0.551329, rel=1e-6)


def test_the_thickness_follows_from_mass_and_metal() -> None:
    """9 kg of 7800 kg/m³ over a disc of 150 mm."""
    thick = 9 / 7800 / (math.pi * 0.15**2) * 1000
    assert f"The disc is {thick:.2f} mm thick all over" in " ".join(answered().assumed)
    given_it = answered(thickness=f"{thick!r} mm")
    assert given_it.walls[0].wall_energy_j == pytest.approx(answered().walls[0].wall_energy_j)
    assert not any("thick all over" in line for line in given_it.assumed)


def test_rows_agree_with_each_other() -> None:
    answer = answered(pieces=[{"name": "strap", "mass_kg": 0.01, "radius": "120 mm",
                               "across": "9 mm"}])  # fmt: skip
    energy = {each.name: each.fragment_energy_j for each in answer.fragments}
    for wall in answer.walls:
        rows = [row for row in answer.comparisons if row.wall == wall.name]
        known = [row for row in rows if row.wall_energy_j is not None]
        for row in known:
            assert row.ratio == pytest.approx(energy[row.piece] / row.wall_energy_j)
            assert row.wall_energy_flat_j is None or row.wall_energy_flat_j >= row.wall_energy_j
        third = [row.wall_energy_j for row in known if row.piece == "one third"]
        assert (wall.wall_energy_j, wall.wall_energy_high_j) == (min(third), max(third))
        assert wall.ratio == pytest.approx(answer.fragment_energy_j / min(third))
        assert wall.ratio_low == pytest.approx(answer.fragment_energy_j / max(third))
        worst = max(known, key=lambda row: row.ratio)
        assert (wall.worst_piece, wall.worst_ratio) == (worst.piece, worst.ratio)
        assert all(row.outside.startswith("not used: ") for row in rows if row not in known)
    assert answer.largest_ratio == max(wall.worst_ratio for wall in answer.walls)
    assert {row.model for row in answer.comparisons if row.wall == "bell"} == {
        "Neilson", "THOR", "plug"
    }  # fmt: skip
    assert {row.model for row in answer.comparisons if row.wall == "plate"} == {
        "BRL", "Stanford", "Neilson", "THOR", "plug"
    }  # fmt: skip


def test_what_is_left_behind_follows_recht_and_ipson() -> None:
    """One wall of grey iron knows the plug alone, so that it can be reckoned again here."""
    answer = answered(walls=[{"name": "iron", "material": "grey iron", "thickness": "6 mm"}])
    stock = WALL_STOCK["grey iron"]
    left = []
    for each in answer.fragments:
        area = math.pi * each.edge_mm**2 / 4
        limit = stock.strength_mpa / math.sqrt(3) * math.pi * each.edge_mm * 36 / 2 * 1e-3
        plug = stock.density_kg_m3 * area * 6e-9
        speed = speed_left_m_s(
            each.speed_m_s, math.sqrt(2 * limit / each.mass_kg), mass_kg=each.mass_kg, plug_kg=plug
        )
        left.append((each.mass_kg + plug) * speed**2 / 2)
    assert answer.walls[0].left_energy_j == pytest.approx(max(left))
    assert answer.walls[0].models == "plug"
    assert "shear mechanics" in WORKSHEET.say(answer, "mm")


@given(times=st.floats(1.05, 3), more=st.floats(1.05, 3))
def test_faster_is_worse_and_thicker_is_less_bad(times: float, more: float) -> None:
    before = answered()
    faster = answered(speed_rpm=7000 * times)
    assert faster.fragment_energy_j == pytest.approx(before.fragment_energy_j * times**2)
    assert faster.walls[0].ratio > before.walls[0].ratio
    thicker = answered(walls=[{**WALL, "thickness": f"{8 * more} mm"}, PLATE])
    assert thicker.walls[0].wall_energy_j > before.walls[0].wall_energy_j
    assert thicker.walls[1] == before.walls[1], "one wall does not know another"


def test_a_strength_and_a_span_of_ones_own() -> None:
    stronger = answered(walls=[{**WALL, "strength_mpa": 524}, PLATE])
    assert stronger.walls[0].wall_energy_j == pytest.approx(2 * answered().walls[0].wall_energy_j)
    assert not any("tensile strength" in line and "bell" in line for line in stronger.assumed)
    assert any(line.startswith("bell: 4 in free") for line in stronger.assumed)
    assert not any(line.startswith("plate: 4 in free") for line in stronger.assumed)


REFUSED = [
    ({"mass_kg": 0}, 'mass_kg: "0" is out of range; give a number greater than 0.0'),
    ({"speed_rpm": -7000}, 'speed_rpm: "-7000" is out of range; give a number greater than 0.0'),
    (
        {"walls": [{**WALL, "thickness": "0 mm"}]},
        'walls[0].thickness: "0 mm" is not above zero; give more than zero',
    ),
    ({"walls": []}, "walls: 0 given; give 1 or more"),
    (
        {"inner_radius": "150 mm"},
        'inner_radius: "150 mm" is not below "150 mm"; give less than outer_radius',
    ),
    ({"outer_radius": "3 m"}, 'outer_radius: "3 m" is beyond any here; give 10 to 2000 mm'),
    (
        {"walls": [WALL, WALL]},
        'walls[1].name: "bell" is used twice; name each once',
    ),
    (
        {"pieces": [{"name": "one third", "mass_kg": 1.0, "radius": "1 in", "across": "1 in"}]},
        'pieces[0].name: "one third" is a piece that is reckoned anyway; name yours otherwise',
    ),
    (
        {"walls": [{**WALL, "thickness": "1 m"}]},
        'walls[0].thickness: "1 m" is beyond any here; give 0.1 to 200 mm',
    ),
    (
        {"mass_kg": 400, "outer_radius": "10 mm"},
        (
            "mass_kg: 400 kg of steel would be 1.63e+05 mm thick; check mass and radii, or give "
            "the thickness"
        ),
    ),
    (
        {"pieces": [{"name": "x", "mass_kg": 0, "radius": "1 mm", "across": "1 mm"}]},
        'pieces[0].mass_kg: "0" is out of range; give a number greater than 0.0',
    ),
    (
        {"walls": [{**WALL, "material": "paper"}]},
        (
            "walls[0].material: \"paper\" is not known; write 'cast A356-T6', 'die-cast A380', "
            "'6061-T6 plate', 'grey iron' or 'mild steel'"
        ),
    ),
]


@pytest.mark.parametrize(("changed", "line"), REFUSED)
def test_what_cannot_be_used_is_refused_by_name(changed: dict[str, Any], line: str) -> None:
    with pytest.raises(InputError) as caught:
        answered(**changed)
    assert caught.value.lines == [line]


def test_the_cautions_come_first_and_defer_to_the_book() -> None:
    assert WORKSHEET.cautions[0].word == "DANGER"
    assert any("current rule book" in caution.text for caution in WORKSHEET.cautions)
    said = WORKSHEET.say(solve(read(WORKSHEET.case, from_toml(WORKSHEET.example))), "mm")
    assert said.endswith("permit nothing.")
