"""The pictures of worksheets' answers, from the worksheets' own examples."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest

from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY, PRINT
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

DRAWN = ("sweep", "dowels", "radial-budget", "match", "block-population", "conformity")


def solved(name: str, **changed: Any) -> tuple[Any, Any]:
    worksheet = load(name)
    case = read(worksheet.case, {**from_toml(worksheet.example), **changed})
    return case, worksheet.solve(case)


def drawn(read_back: Any, name: str, case: Any, answer: Any, lead: Any = "in") -> list[Any]:
    found = pictures_of(name, case, answer, lead=lead, palette=DAY)
    assert all(picture.caption.endswith(".") for picture in found)
    return [read_back(picture.svg) for picture in found]


@pytest.mark.parametrize("lead", ["mm", "in"])
@pytest.mark.parametrize("name", DRAWN)
def test_every_picture_is_clear_and_named(read_back: Any, name: str, lead: Any) -> None:
    found = drawn(read_back, name, *solved(name), lead=lead)
    assert found
    for picture in found:
        picture.check_clear()
        assert picture.root.findtext("{*}title")
        assert picture.root.findtext("{*}desc")
    assert pictures_of(name, *solved(name), lead=lead, palette=PRINT)[0].svg.count("#000000")


def test_a_worksheet_without_pictures_has_none() -> None:
    assert pictures_of("no-such-worksheet", object(), object()) == []


def place_of(picture: Any, label: str) -> complex:
    """Where a mark lies from the crank axis, +x right and +y up, in units of the page."""
    for group in picture.all("g"):
        if (group.findtext("{*}title") or "").startswith(f"{label}: "):
            circle = group.find("{*}circle")
            return complex(float(circle.get("cx")) - 200, 194 - float(circle.get("cy")))
    raise AssertionError(label)


def toward(clock_deg: float) -> complex:
    return complex(math.sin(math.radians(clock_deg)), math.cos(math.radians(clock_deg)))


def test_a_sweep_shows_bore_move_and_readings(read_back: Any) -> None:
    case, answer = solved("sweep")
    target, clock = drawn(read_back, "sweep", case, answer)
    at = place_of(target, "bore centre")
    assert at / abs(at) == pytest.approx(toward(answer.offset_clock_deg), abs=2e-3)
    tip = next(p for p in target.all("polygon") if p.get("fill") == DAY.brass)
    x, y = map(float, tip.get("points").split()[0].split(","))
    assert math.hypot(x - 200, y - 194) < 0.5  # the move ends on the crank axis
    assert f"{answer.move_mm / 0.0254:.1f} thou" in target.words()
    assert answer.verdict in target.words()
    assert "limit 5 thou TIR" in target.words()
    highest = max(reading for _, reading in case.readings)
    assert any(word.startswith(f"+{highest:.1f}") for word in clock.words())
    assert "thou" in " ".join(clock.words())


def test_an_oval_bore_is_said_to_be_oval(read_back: Any) -> None:
    rows = [[a, 4 * math.cos(math.radians(2 * a))] for a in range(0, 360, 30)]
    case, answer = solved("sweep", readings=rows, sag=None, bearing_clearance=None)
    assert answer.cause == "out of round"
    words = drawn(read_back, "sweep", case, answer)[0].words()
    assert [word for word in words if word.startswith("out of round 8")]


def test_a_face_shows_where_the_shaft_comes_to(read_back: Any) -> None:
    data = {
        "surface": "face", "unit": "thou", "readings": [[0, 3], [90, 0], [180, -3], [270, 0]],
        "limit": "5 thou", "sweep_radius": "80 mm", "plane_distance": "160 mm",
    }  # fmt: skip
    worksheet = load("sweep")
    case = read(worksheet.case, data)
    answer = worksheet.solve(case)
    shaft, clock = drawn(read_back, "sweep", case, answer)
    at = place_of(shaft, "shaft's tip")
    assert at / abs(at) == pytest.approx(toward(answer.pilot_shift_clock_deg), abs=2e-3)
    assert not [word for word in shaft.words() if "limit" in word]
    assert "+3" in clock.words()


def hands_of(pair: Any) -> list[complex]:
    """Unit vectors of the brass lines: the slots, in the order of the dowels."""
    hands = [
        complex(
            float(hand.get("x2")) - float(hand.get("x1")),
            float(hand.get("y1")) - float(hand.get("y2")),
        )
        for hand in pair.all("line")
        if hand.get("stroke") == DAY.brass
    ]
    return [hand / abs(hand) for hand in hands]


def test_dowels_show_before_after_and_their_slots(read_back: Any) -> None:
    case, answer = solved("dowels")
    best = answer.candidates[answer.recommended]
    target, pair = drawn(read_back, "dowels", case, answer)
    before, after = place_of(target, "as it is"), place_of(target, "after")
    assert before / abs(before) == pytest.approx(toward(case.offset_clock_deg), abs=2e-3)
    scale = abs(before) / case.offset.mm
    assert after == pytest.approx(
        scale * complex(best.predicted_offset_x_mm, best.predicted_offset_y_mm), abs=0.02
    )
    assert hands_of(pair)[:2] == [
        pytest.approx(toward(clock_deg), abs=2e-3)
        for clock_deg in (best.a_clock_deg, best.b_clock_deg)
    ]
    assert pair.words().count("7 thou") == 2


def test_dowels_that_cannot_help_show_the_bore_alone(read_back: Any) -> None:
    case, answer = solved("dowels", sizes=[])
    assert answer.recommended is None
    (only,) = drawn(read_back, "dowels", case, answer)
    assert "as it is" in only.words()
    assert "after" not in only.words()


def test_after_a_turn_the_second_sweep_is_where_the_bore_is(read_back: Any) -> None:
    case, answer = solved(
        "dowels",
        turned={"a_size": "7 thou", "a_clock_deg": 60, "b_size": "7 thou", "b_clock_deg": 60},
        offset_after="3 thou",
        offset_after_clock_deg=100,
    )
    target = drawn(read_back, "dowels", case, answer)[0]
    at = place_of(target, "as it is")
    assert at / abs(at) == pytest.approx(toward(100), abs=2e-3)
    if answer.next_turn is not None:
        after = place_of(target, "after")
        end = complex(
            answer.next_turn.predicted_offset_x_mm, answer.next_turn.predicted_offset_y_mm
        )
        assert after == pytest.approx(abs(at) / (3 * 0.0254) * end, abs=0.02)


def test_after_a_turn_the_slots_are_drawn_where_they_must_be_set(read_back: Any) -> None:
    # both dowels point some 20 degrees past their slots: the slot goes by the turn from where it is
    case, answer = solved(
        "dowels",
        turned={"a_size": "7 thou", "a_clock_deg": 60, "b_size": "7 thou", "b_clock_deg": 60},
        offset_u95="0.1 thou",
        offset_after="2.8 thou",
        offset_after_clock_deg=165,
    )
    turn = answer.next_turn
    assert abs(turn.a_clock_deg - (60 + turn.a_turn_deg)) > 10
    pair = drawn(read_back, "dowels", case, answer)[1]
    assert hands_of(pair)[:2] == [
        pytest.approx(toward(60 + turn_deg), abs=2e-3)
        for turn_deg in (turn.a_turn_deg, turn.b_turn_deg)
    ]


def test_a_budget_shows_its_rings_and_who_makes_them(read_back: Any) -> None:
    case, answer = solved("radial-budget")
    target, shares = drawn(read_back, "radial-budget", case, answer)
    rings = {c.get("r"): c for c in target.all("circle") if c.get("fill-opacity")}
    radii = sorted(map(float, rings))
    (limit,) = (float(c.get("r")) for c in target.all("circle") if c.get("stroke-width") == "1.8")
    scale = limit / (case.limit.mm / 2)
    expected = [answer.tir_percentiles_mm[p] / 2 * scale for p in ("50", "90", "99")]
    assert radii == pytest.approx(expected, abs=0.01)  # a TIR is twice an offset
    assert [w for w in target.words() if w.endswith("outside the limit")]
    words = shares.words()
    for each in answer.contributions:
        assert each.name in words


def test_a_match_shows_each_bore_where_bell_and_engine_put_it(read_back: Any) -> None:
    case, answer = solved("match")
    matched, served = drawn(read_back, "match", case, answer)
    for picture, pairs in ((matched, answer.pairs), (served, answer.first_come_pairs)):
        wide = [c for c in picture.all("circle") if c.get("stroke-width") == "1.8"]
        scale = max(float(c.get("r")) for c in wide) / (case.limit.mm / 2)
        for pair in pairs:
            at = place_of(picture, pair.order)
            assert at == pytest.approx(
                scale * complex(pair.offset_x_mm, pair.offset_y_mm), abs=0.02
            )
            assert abs(at) == pytest.approx(scale * pair.expected_tir_mm / 2, abs=0.02)
    assert f"{answer.total.within:.2f} of 4 expected within" in matched.words()
    assert f"{answer.first_come.within:.2f} of 4 expected within" in served.words()
    assert "outside" in served.words()


def test_blocks_show_their_samples_and_the_region_of_the_next(read_back: Any) -> None:
    data = from_toml(load("block-population").example)
    case, answer = solved("block-population", samples=[*data["samples"], [9.0, 3.0]])
    (picture,) = drawn(read_back, "block-population", case, answer)
    wide = [c for c in picture.all("circle") if c.get("stroke-width") == "1.8"]
    scale = max(float(c.get("r")) for c in wide) / (case.limit.mm / 2)
    for each in answer.samples[:12]:
        at = place_of(picture, f"sample {each.number}")
        assert at == pytest.approx(scale * complex(each.x_mm, each.y_mm), abs=0.02)
    assert "13 fit-ups" in picture.words()
    (only,) = pictures_of("block-population", case, answer, palette=DAY)
    assert only.caption.endswith("Hatched: to be looked at again (13).")
    case, answer = solved("block-population")
    (picture,) = drawn(read_back, "block-population", case, answer)
    region = answer.prediction_region
    mean = complex(answer.mean_x_mm, answer.mean_y_mm)
    wide = [c for c in picture.all("circle") if c.get("stroke-width") == "1.8"]
    scale = max(float(c.get("r")) for c in wide) / (case.limit.mm / 2)
    (outline,) = [p for p in picture.all("path") if p.get("stroke-dasharray")]
    points = [
        complex(float(x) - 200, 194 - float(y)) / scale
        for x, y in re.findall(r"(-?[\d.]+)[ ,](-?[\d.]+)", outline.get("d"))
    ]
    away = [abs(point - mean) for point in points]
    assert max(away) == pytest.approx(region.long_mm, rel=2e-3)
    assert min(away) == pytest.approx(region.short_mm, rel=2e-3)
    longest = points[away.index(max(away))] - mean
    assert abs((longest / toward(region.clock_deg)).imag) < 0.05 * region.long_mm


def test_conformity_shows_the_verdict_and_the_guard(read_back: Any) -> None:
    case, answer = solved("conformity", value="158.02 mm")
    (line,) = drawn(read_back, "conformity", case, answer, lead="mm")
    assert answer.verdict == "too close to call"
    assert {"158.020 mm ± 0.010 mm", "too close to call", "high 158.025 mm"} <= set(line.words())
