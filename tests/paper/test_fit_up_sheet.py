"""The fitter's sheet: what to turn, what to read next, when to stop; its numbers are true."""

from __future__ import annotations

import dataclasses
import datetime
import math

import pytest
import segno

from kitwright.errors import InputError
from kitwright.paper.fit_up_sheet import (
    BOLTS,
    PLACES,
    STOP,
    FitUpSheet,
    fit_up_data,
    fit_up_sheet_pdf,
    second_readings,
)
from kitwright.paper.typesetting import compiled
from kitwright.worksheets.centring.dowels_case import DowelsCase
from kitwright.worksheets.centring.sweep_case import SweepCase
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read

THOU = 0.0254
BORE = {"surface": "bore", "unit": "thou", "limit": "5 thou", "graduation": "0.5 thou"}
DRAWER = {
    "dowel_a": ["-180 mm", "20 mm"],
    "dowel_b": ["180 mm", "20 mm"],
    "sizes": ["7 thou", "14 thou", "21 thou"],
    "hole_clearance": "1 thou",
}


def dial(x_thou, y_thou, clock_deg, *, sag_thou=0.0, clearance_thou=0.0, radius_mm=62.0):
    """What a dial shows in a round bore whose centre stands at x, y from the centred crank.

    By geometry, not by the fitted model: the wall's distance from where the crank axis lies, which
    is lower by half the clearance; a holder that sags carries its tip toward the wall below.
    """
    t = math.radians(clock_deg)
    ux, uy = math.sin(t), math.cos(t)
    x, y = x_thou * THOU, (y_thou + clearance_thou / 2) * THOU
    wall = x * ux + y * uy + math.sqrt(radius_mm**2 - (x * uy - y * ux) ** 2)
    return (radius_mm - wall) / THOU + sag_thou * (1 - uy) / 2


def swept(x_thou, y_thou, clocks=PLACES, **how):
    """A sweep's case, zeroed at its first reading, and its answer."""
    raw = [dial(x_thou, y_thou, clock, **how) for clock in clocks]
    given = {
        **BORE,
        "readings": [[c, round(r - raw[0], 4)] for c, r in zip(clocks, raw, strict=True)],
    }
    if how:
        given |= {
            "sag": f"{how['sag_thou']} thou",
            "bearing_clearance": f"{how['clearance_thou']} thou",
        }
    worksheet = load("sweep")
    case = read(SweepCase, given)
    return case, worksheet.solve(case)


def turned(answer, **changes):
    """The dowels' case and answer for a sweep's answer."""
    given = {
        **DRAWER,
        "offset": f"{answer.offset_mm!r} mm",
        "offset_clock_deg": answer.offset_clock_deg,
        "offset_u95": f"{answer.offset_u95_mm!r} mm",
        "limit": "5 thou",
        **changes,
    }
    case = read(DowelsCase, given)
    return case, load("dowels").solve(case)


def sheet_of(x_thou, y_thou, *, dowels=True, clocks=PLACES, how=None, **changes):
    case, answer = swept(x_thou, y_thou, clocks, **(how or {}))
    dowels_case, dowels_answer = turned(answer) if dowels else (None, None)
    about = {
        "shop_name": "North Yard Kits",
        "name": "12",
        "serial": "NY-0042",
        "car": "blue coupé",
        "engine": "straight six, line honed",
        "gearbox": "five-speed",
        "date": datetime.date(2026, 11, 24),
        "lead": "in",
        "call": "the shop, 0000 555 010",
        "code": "https://north-yard.example/f/8f3a2c71",
        **changes,
    }
    return FitUpSheet(
        sweep_case=case,
        sweep_answer=answer,
        dowels_case=dowels_case,
        dowels_answer=dowels_answer,
        **about,
    )


@pytest.fixture(scope="module")
def off():
    """A bore 6 thou off toward 8 o'clock: x = 6 sin 240, y = 6 cos 240."""
    return sheet_of(6 * math.sin(math.radians(240)), 6 * math.cos(math.radians(240)))


def test_two_pages_with_every_word_and_the_protractors(off, printed):
    found = printed(fit_up_sheet_pdf(off))
    assert len(found.pages) == 3
    assert "Protractors for the slots, full size" in found.pages[2]
    sweep, dowels = load("sweep"), load("dowels")
    for caution in (*sweep.cautions, *dowels.cautions):
        assert f"{caution.word} {caution.text}" in found.pages[0]
    for words in (
        "Fit-up 12, bell NY-0042",
        "blue coupé",
        "straight six, line honed",
        "five-speed",
        sweep.say(off.sweep_answer, "in"),
        dowels.say(off.dowels_answer, "in"),
        "What to turn Dowel Size Slot points to",
        "a 0.0070 in (0.178 mm) 60°, 2 o'clock",
        "b 0.0070 in (0.178 mm) 60°, 2 o'clock",
        "seen from behind the engine",
        "limit 5 thou TIR",
    ):
        assert words in found.pages[0], words
    for words in (
        "Second sweep Bolt the bell up again by the maker's figure",
        "Clock 12 half past 1 3 half past 4 6 half past 7 9 half past 10",
        "Should read, thou 0.0",
        "Reads, thou",
        "Back at 12 it reads, thou",
        "Highest minus lowest (TIR), thou",
        "Limit, TIR 5 thou (0.127 mm)",
        "Bolts The maker's figure Tightened to By",
        "Stop and call the shop, 0000 555 010 when",
        *BOLTS,
        *STOP,
        "Fitted by",
        "Within the limit",
        "Page 2 of 3",
    ):
        assert words in found.pages[1], words
    for clock, reading in off.sweep_case.readings:
        value = f"{reading:+.1f}".replace("-", "−") if round(reading, 1) else "0.0"
        assert f"{clock:g}° {value}" in found.text


def test_cautions_stand_above_the_answer_the_gravest_first(off, printed):
    text = printed(fit_up_sheet_pdf(off)).pages[0]
    places = [text.rindex("DANGER"), text.index("WARNING"), text.index("CAUTION")]
    assert places == sorted(places)
    assert text.rindex("CAUTION") < text.index(load("sweep").say(off.sweep_answer, "in"))


@pytest.mark.parametrize("how", [None, {"sag_thou": 1.5, "clearance_thou": 3.0}])
def test_the_second_sweep_reads_what_geometry_says(how):
    """A dial in the bore where the dowels put it, by distances to the wall."""
    sheet = sheet_of(-5.2, -3.0, how=how)
    best = sheet.setting
    at = best.predicted_offset_x_mm / THOU, best.predicted_offset_y_mm / THOU
    raw = [dial(*at, place, **(how or {})) for place in PLACES]
    expected = [reading - raw[0] for reading in raw]
    assert [reading for reading, _ in second_readings(sheet)] == pytest.approx(expected, abs=0.01)
    assert expected[0] == 0


def test_the_sheet_prints_these_readings(printed):
    sheet = sheet_of(-5.2, -3.0, how={"sag_thou": 1.5, "clearance_thou": 3.0})
    row = [
        (f"{reading:+.1f}".replace("-", "−") if round(reading, 1) else "0.0") + f" ± {u95:.1f}"
        for reading, u95 in second_readings(sheet)
    ]
    text = printed(fit_up_sheet_pdf(sheet)).pages[1]
    start = text.index("Should read, thou")
    assert text[start:].startswith("Should read, thou " + " ".join(row))


def test_where_the_bell_may_stay_nothing_is_turned(printed):
    sheet = sheet_of(0.3, 0.2, dowels=False)
    found = printed(fit_up_sheet_pdf(sheet))
    assert len(found.pages) == 2
    assert load("sweep").say(sheet.sweep_answer, "in") in found.text
    for absent in ("What to turn", "Should read", "hammer"):
        assert absent not in found.text
    assert second_readings(sheet) == []


def test_dowels_that_cannot_cure_it_are_not_drawn(printed):
    sheet = sheet_of(60, 0)
    assert sheet.dowels_answer.recommended is None
    found = printed(fit_up_sheet_pdf(sheet))
    assert load("dowels").say(sheet.dowels_answer, "in") in found.text
    assert "What to turn" not in found.text


def test_millimetres_where_the_dial_reads_them(off, printed):
    given = off.sweep_case.model_dump(mode="json", exclude_none=True)
    given |= {"unit": "mm", "readings": [[c, r * THOU] for c, r in off.sweep_case.readings]}
    case = read(SweepCase, given)
    sheet = dataclasses.replace(off, sweep_case=case, lead="mm")
    found = printed(fit_up_sheet_pdf(sheet))
    assert "Limit, TIR 0.127 mm (0.0050 in)" in found.text
    assert "a 0.178 mm (0.0070 in) 60°, 2 o'clock" in found.text
    assert second_readings(sheet)[4][0] == pytest.approx(second_readings(off)[4][0] * THOU)


def test_thirty_six_readings_still_take_two_pages(printed):
    sheet = sheet_of(-5.2, -3.0, clocks=tuple(range(0, 360, 10)))
    found = printed(fit_up_sheet_pdf(sheet))
    assert len(found.pages) == 3
    assert found.pages[2].startswith("Protractors")
    assert all(f" {clock}° " in found.text for clock in range(10, 360, 10))


def test_same_bytes_our_face_inside_and_accessible(off, printed):
    pdf = fit_up_sheet_pdf(off)
    assert fit_up_sheet_pdf(dataclasses.replace(off)) == pdf
    fonts = printed(pdf).fonts()
    assert set(fonts) == {"SourceSans3-Regular", "SourceSans3-Semibold"}
    assert all(fonts.values())
    made, warnings = compiled(
        "fit-up", fit_up_data(off), title="t", date=off.date, standards=["ua-1"]
    )
    assert made.startswith(b"%PDF")
    assert warnings == []


def test_the_code_is_a_link_or_nothing(off, printed):
    code = segno.make_qr(off.code, error="q", boost_error=False)
    modules = [[bool(module) for module in row] for row in code.matrix]
    assert printed(fit_up_sheet_pdf(off)).code() == modules
    assert printed(fit_up_sheet_pdf(dataclasses.replace(off, code=""))).code() == []


def test_long_and_hostile_names_stay_text(off, printed):
    name = "#A$*<\\\"'" + "M" * 32
    changed = dict.fromkeys(("name", "serial", "car", "engine", "gearbox", "call"), name)
    sheet = dataclasses.replace(off, **changed, bolts=(name,), shop_name=name, code="")
    found = printed(fit_up_sheet_pdf(sheet))
    # heading twice, car, engine, gearbox, shop above, call, bolt; and three a page in the block
    assert found.unbroken.count(name) == 8 + 3 * len(found.pages)


def test_what_a_fitters_sheet_cannot_be(off):
    face = {
        "surface": "face",
        "unit": "thou",
        "readings": [[0, 0], [90, 1], [180, 2], [270, 1]],
        "limit": "5 thou",
        "sweep_radius": "80 mm",
    }
    with pytest.raises(InputError, match="a face was swept"):
        dataclasses.replace(off, sweep_case=read(SweepCase, face))
    with pytest.raises(InputError, match="half given"):
        dataclasses.replace(off, dowels_case=None)


def test_after_a_turn_it_says_how_far_to_turn_from_where_they_stand(printed):
    off = sheet_of(5.2, -5.1)
    made = {"a_size": "7 thou", "a_clock_deg": 60, "b_size": "7 thou", "b_clock_deg": 60}
    after = {"turned": made, "offset_after": "9 thou", "offset_after_clock_deg": 90}
    case, answer = turned(off.sweep_answer, **after)
    sheet = dataclasses.replace(off, dowels_case=case, dowels_answer=answer)
    assert sheet.setting is answer.next_turn
    assert answer.next_turn is not None
    assert second_readings(sheet) == []
    text = printed(fit_up_sheet_pdf(sheet)).text
    for said in ("Next sweep", "This sweep, as read", load("dowels").say(answer, sheet.lead)):
        assert said in text
    assert "Should read" not in text
