"""A certificate says what was measured, by which rule it was released, and nothing more."""

from __future__ import annotations

import dataclasses
import datetime
import hashlib

import pytest
import segno
import zxingcpp

from kitwright.errors import InputError
from kitwright.paper.certificate import (
    CERTIFIES,
    Bore,
    Certificate,
    Measured,
    ShellCertificate,
    certificate_data,
    certificate_pdf,
)
from kitwright.paper.typesetting import compiled
from kitwright.worksheets.declaration import Caution

ROWS = (
    Measured(
        name="Bore position",
        kind="position",
        limits="inside 0.127 mm",
        value_mm=0.0624,
        u95_mm=0.008,
        verdict="within",
    ),
    Measured(
        name="Bore diameter",
        kind="length",
        limits="124.714 to 124.750 mm",
        value_mm=124.7312,
        u95_mm=0.004,
        verdict="within",
    ),
    Measured(
        name="Depth",
        kind="length",
        limits="158.70 to 158.80 mm",
        value_mm=158.796,
        u95_mm=0.02,
        verdict="too close to call",
    ),
)
BELL = Certificate(
    shop_name="North Yard Kits",
    serial="NY-0042",
    design="Long cone",
    conversion="Straight six to five-speed",
    material="cast aluminium",
    revision="C",
    batch="2026-07",
    machinist="M3",
    inspected_on=datetime.date(2026, 11, 18),
    inspected_by="R. Ode",
    instrument="coordinate measuring machine",
    rows=ROWS,
    decision="released",
    decision_rule="Limits are drawn in by the whole expanded uncertainty.",
    decided_by="J. Marl",
    decided_on=datetime.date(2026, 11, 19),
    bore=Bore(x_mm=0.021, y_mm=-0.022, u95_mm=0.006, limit_tir_mm=0.127),
    cautions=(Caution("WARNING", "Sweep the bore on the engine it is fitted to."),),
    code="https://north-yard.example/b/NY-0042",
)


def test_every_word_and_number_is_on_one_page(printed):
    found = printed(certificate_pdf(BELL))
    assert len(found.pages) == 1
    for words in (
        "Bell NY-0042",
        "Released. 3 characteristics measured: 2 within their limits, 1 too close to call.",
        "North Yard Kits",
        "Long cone",
        "Straight six to five-speed",
        "cast aluminium",
        "2026-07",
        "M3",
        "2026-11-18 by R. Ode",
        "coordinate measuring machine",
        "released by J. Marl, 2026-11-19",
        "WARNING Sweep the bore on the engine it is fitted to.",
        # value, uncertainty and inches no finer than the uncertainty supports
        "Bore position position inside 0.127 mm 0.062 mm ± 0.008 mm 0.0025 in within",
        "Bore diameter length 124.714 to 124.750 mm 124.731 mm ± 0.004 mm 4.9107 in",
        "Depth length 158.70 to 158.80 mm 158.80 mm ± 0.02 mm 6.2518 in too close to call",
        "Limits are drawn in by the whole expanded uncertainty.",
        CERTIFIES,
        "Page 1 of 1",
        "seen from behind the engine",
        "limit 0.127 mm TIR",
        BELL.content,
    ):
        assert words in found.text, words


def test_it_never_says_that_a_shell_holds():
    assert "does not say that this bell will hold back" in CERTIFIES


def test_inches_lead_where_the_shop_says_so(printed):
    found = printed(certificate_pdf(dataclasses.replace(BELL, lead="in")))
    assert "0.0025 in ± 0.0003 in 0.062 mm within" in found.text
    assert "limit 5 thou TIR" in found.text


def test_the_code_carries_the_link_or_the_serial(printed):
    for bell, text in ((BELL, BELL.code), (dataclasses.replace(BELL, code=""), BELL.serial)):
        code = segno.make_qr(text, error="q", boost_error=False)
        modules = [[bool(module) for module in row] for row in code.matrix]
        assert printed(certificate_pdf(bell)).code() == modules


def test_the_code_is_read_back_from_the_printed_page(rendered):
    """zxing-cpp, an independent reader, on the page drawn by Poppler at 200 dpi."""
    for bell, text in ((BELL, BELL.code), (dataclasses.replace(BELL, code=""), BELL.serial)):
        (page,) = rendered(certificate_pdf(bell))
        assert [one.text for one in zxingcpp.read_barcodes(page)] == [text]


def test_where_the_code_leads_is_no_part_of_what_is_certified():
    elsewhere = dataclasses.replace(BELL, code="http://garage.test:8711/bells/NY-0042")
    assert elsewhere.content == BELL.content


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "lead", "said"),
    [
        (0.021, -0.022, "mm", "0.021 mm right and 0.022 mm down as seen from behind"),
        (-0.021, 0.022, "in", "0.0008 in left and 0.0009 in up as seen from behind"),
    ],
)
def test_the_offset_is_said_beside_its_drawing(x_mm, y_mm, lead, said, printed):
    bore = Bore(x_mm=x_mm, y_mm=y_mm, u95_mm=0.006, limit_tir_mm=0.127)
    found = printed(certificate_pdf(dataclasses.replace(BELL, bore=bore, lead=lead)))
    assert said in found.text


def test_all_within_is_said_once():
    assert (
        dataclasses.replace(BELL, rows=ROWS[:2]).say()
        == "Released. 2 characteristics measured, all within their limits."
    )
    assert (
        dataclasses.replace(BELL, rows=ROWS[:1]).say()
        == "Released. 1 characteristic measured, all within their limits."
    )


def test_a_concession_names_who_and_why(printed):
    outside = dataclasses.replace(ROWS[2], verdict="outside")
    bell = dataclasses.replace(
        BELL, decision="conceded", reason="the depth is shimmed.", rows=(*ROWS[:2], outside)
    )
    said = "Conceded by J. Marl: the depth is shimmed. 3 characteristics measured: "
    assert bell.say() == said + "2 within their limits, 1 outside."
    assert bell.say() in printed(certificate_pdf(bell)).text


@pytest.mark.parametrize(
    ("changes", "where"), [({"decision": "conceded"}, "reason"), ({"rows": ()}, "rows")]
)
def test_what_a_certificate_cannot_be(changes, where):
    with pytest.raises(InputError) as caught:
        dataclasses.replace(BELL, **changes)
    assert caught.value.problems[0].where == where


def test_a_certified_shell_sends_to_the_current_rule_book(printed):
    shell = ShellCertificate(number="S-118", expires=datetime.date(2028, 3, 31))
    found = printed(certificate_pdf(dataclasses.replace(BELL, shell=shell)))
    assert "number S-118, expires 2028-03-31; check the current rule book" in found.text

    undated = dataclasses.replace(shell, expires=None)
    found = printed(certificate_pdf(dataclasses.replace(BELL, shell=undated)))
    assert "number S-118, no expiry was given; check the current rule book" in found.text


def test_same_data_same_bytes_and_every_change_shows():
    again = dataclasses.replace(BELL, rows=tuple(ROWS))
    assert certificate_pdf(again) == certificate_pdf(BELL)
    texts = [
        field.name
        for field in dataclasses.fields(BELL)
        if isinstance(getattr(BELL, field.name), str)
        and field.name not in ("decision", "lead", "code", "sample")
    ]
    changed = [dataclasses.replace(BELL, **{name: getattr(BELL, name) + "x"}) for name in texts]
    contents = {one.content for one in changed}
    assert len(contents) == len(changed) > 10
    assert BELL.content not in contents


def test_content_is_the_hash_it_is_said_to_be():
    """SHA-256 over keys in order, no spaces, ASCII: anyone can compute it again by hand."""
    small = dataclasses.replace(BELL, rows=ROWS[:1], bore=None, cautions=())
    by_hand = (
        '{"batch":"2026-07","bore":null,"cautions":[],'
        '"conversion":"Straight six to five-speed",'
        '"decided_by":"J. Marl","decided_on":"2026-11-19","decision":"released",'
        '"decision_rule":"Limits are drawn in by the whole expanded uncertainty.",'
        '"design":"Long cone","inspected_by":"R. Ode","inspected_on":"2026-11-18",'
        '"instrument":"coordinate measuring machine","lead":"mm","machinist":"M3",'
        '"material":"cast aluminium","reason":"","revision":"C",'
        '"rows":[{"kind":"position","limits":"inside 0.127 mm","name":"Bore position",'
        '"u95_mm":0.008,"value_mm":0.0624,"verdict":"within"}],'
        '"serial":"NY-0042","shell":null,"shop_name":"North Yard Kits"}'
    )
    assert small.content == hashlib.sha256(by_hand.encode()).hexdigest()[:12]


def test_without_a_bore_there_is_no_target(printed):
    found = printed(certificate_pdf(dataclasses.replace(BELL, bore=None)))
    assert "seen from behind" not in found.text
    assert "Bore diameter" in found.text


def test_many_characteristics_go_on_with_their_heads(printed):
    rows = tuple(dataclasses.replace(ROWS[1], name=f"Hole {n}") for n in range(60))
    found = printed(certificate_pdf(dataclasses.replace(BELL, rows=rows)))
    assert len(found.pages) == 2
    assert all("Uncertainty, k = 2" in page for page in found.pages)
    assert all(f"Hole {n} length" in found.text for n in range(60))
    assert "Page 2 of 2" in found.pages[1]
    assert found.code(1) == found.code(0) != []


def test_sixteen_characteristics_fit_on_one_page(printed):
    rows = tuple(dataclasses.replace(ROWS[1], name=f"Hole {n}") for n in range(16))
    assert len(printed(certificate_pdf(dataclasses.replace(BELL, rows=rows))).pages) == 1


def test_long_and_hostile_names_stay_text(printed):
    name = "#A$*<\\\"'" + "M" * 32
    bell = dataclasses.replace(
        BELL,
        serial=name,
        design=name,
        machinist=name,
        shop_name=name,
        rows=(dataclasses.replace(ROWS[0], name=name),),
        code="",
    )
    found = printed(certificate_pdf(bell))
    # above, heading, target, table of facts twice, characteristic, beside the code, block twice;
    # the target shortens its label where there is no room
    assert found.unbroken.count(name) >= 8
    assert len(found.pages) == 1


def test_accessible_as_the_typesetter_proves_it():
    """PDF/UA-1 (ISO 14289-1), as far as the typesetter checks it; and no warnings."""
    pdf, warnings = compiled(
        "certificate", certificate_data(BELL), title="t", date=BELL.decided_on, standards=["ua-1"]
    )
    assert pdf.startswith(b"%PDF")
    assert warnings == []


def test_only_our_face_and_inside(printed):
    fonts = printed(certificate_pdf(BELL)).fonts()
    assert set(fonts) == {"SourceSans3-Regular", "SourceSans3-Semibold"}
    assert all(fonts.values())


def by_sample(**more):
    """The same bell, released on the evidence of a sample and not measured."""
    bare = [dataclasses.replace(row, value_mm=None, u95_mm=None, verdict=None) for row in ROWS]
    words = "sample 1: 8 of 50 bells, drawn at random with the seed 20; 0 bad, 0 allowed"
    return dataclasses.replace(
        BELL,
        **{
            "rows": tuple(bare),
            "bore": None,
            "inspected_on": None,
            "inspected_by": "",
            "instrument": "",
            "sample": words,
            **more,
        },
    )


def test_a_bell_released_by_sample_says_so_plainly(printed):
    found = printed(certificate_pdf(by_sample()))
    for words in (
        "Released by sample, not itself measured.",
        "This sheet certifies no measurement of this bell",
        "sample 1: 8 of 50 bells, drawn at random with the seed 20; 0 bad, 0 allowed",
    ):
        assert words in found.text
    assert found.text.count("not measured") >= len(ROWS)
    assert CERTIFIES not in found.text
    assert by_sample().content != by_sample(sample="sample 2").content


def test_a_sample_stands_for_no_measurement_and_the_other_way_round():
    with pytest.raises(InputError, match="a measured bell needs no sample"):
        dataclasses.replace(BELL, sample="sample 1")
    with pytest.raises(InputError, match="nothing was measured"):
        by_sample(sample="")
