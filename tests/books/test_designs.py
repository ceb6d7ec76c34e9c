"""Conversions, designs, revisions and their characteristics."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from kitwright.books import conversions, designs, kits
from kitwright.books.characteristics import (
    Characteristic,
    characteristics,
    length_of,
    position_of,
    set_characteristics,
)
from kitwright.books.conversions import BlockPopulation, Hole
from kitwright.books.entries import Money
from kitwright.errors import InputError, MissingError, MoveError


def test_a_conversion_comes_back_as_it_was_written(workshop):
    with workshop.books.writing() as c:
        found = conversions.get_conversion(c, workshop.conversion)
        assert (found.gap_low_mm, found.gap_high_mm, found.tir_mm) == (1.5, 4.0, 0.25)
        assert [each.name for each in conversions.cars(c, workshop.conversion)] == [
            "Invented coupé"
        ]
        conversions.add_car(c, "Another")
        assert len(conversions.cars(c)) == 2
        assert [each.id for each in conversions.engines(c)] == [found.engine_id]
        assert [each.id for each in conversions.gearboxes(c)] == [found.gearbox_id]
        assert conversions.conversions(c) == [found]


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("depth_mm", 0, "depth: 0 is not above zero"),
        ("depth_mm", float("nan"), "depth: nan is not a number"),
        ("gap_mm", (2, 1), "gap: 2 to 1 mm"),
        ("tir_mm", -0.1, "tir"),
        ("engine_id", 99, "names something that is not in the books"),
        ("car_ids", [99], "names something that is not in the books"),
        ("name", "Six to five-speed", "is taken; name the conversion otherwise"),
    ],
)
def test_a_conversion_that_cannot_be_leaves_nothing(workshop, name, value, words):
    given = {
        "name": "Another",
        "engine_id": 1,
        "gearbox_id": 1,
        "car_ids": [1],
        "depth_mm": 180,
        "gap_mm": (1, 2),
        "pilot_mm": 0.2,
        "tir_mm": 0.2,
        name: value,
    }
    with workshop.books.writing() as c:
        with pytest.raises(InputError, match=words):
            conversions.add_conversion(c, given.pop("name"), **given)
        assert len(conversions.conversions(c)) == 1


def test_patterns_of_both_faces(workshop):
    holes = [
        Hole(name="dowel a", x_mm=-120.5, y_mm=60, diameter_mm=12.7),
        Hole(name="b1", x_mm=80, y_mm=-40),
    ]
    with workshop.books.writing() as c:
        for face in ("block", "gearbox"):
            conversions.set_pattern(c, workshop.conversion, face, holes)
        conversions.set_pattern(c, workshop.conversion, "gearbox", holes[1:])
        assert conversions.pattern(c, workshop.conversion, "block") == holes
        assert conversions.pattern(c, workshop.conversion, "gearbox") == holes[1:]
        for wrong, words in (
            ([holes[0], holes[0]], '"dowel a" is taken'),
            ([replace(holes[0], x_mm=float("inf"))], "hole dowel a"),
            ([replace(holes[0], diameter_mm=0)], "hole dowel a"),
        ):
            with pytest.raises(InputError, match=words):
                conversions.set_pattern(c, workshop.conversion, "block", wrong)
            assert conversions.pattern(c, workshop.conversion, "block") == holes
        with pytest.raises(InputError, match="write block or gearbox"):
            conversions.set_pattern(c, workshop.conversion, "front", holes)
        with pytest.raises(MissingError):
            conversions.set_pattern(c, 99, "block", holes)


def test_new_and_line_honed_blocks_apart(workshop):
    new = BlockPopulation(zone_mm=0.1, shift_x_mm=0, shift_y_mm=0, source="12 blocks measured")
    honed = replace(new, shift_y_mm=-0.06)
    with workshop.books.writing() as c:
        conversions.set_population(c, workshop.conversion, "new", honed)
        conversions.set_population(c, workshop.conversion, "new", new)
        conversions.set_population(c, workshop.conversion, "line-honed", honed)
        assert conversions.populations(c, workshop.conversion) == {"new": new, "line-honed": honed}
        with pytest.raises(InputError, match="write new or line-honed"):
            conversions.set_population(c, workshop.conversion, "worn", new)
        with pytest.raises(InputError, match="zone"):
            conversions.set_population(c, workshop.conversion, "new", replace(new, zone_mm=0))
        assert conversions.populations(c, workshop.conversion)["new"] == new


def test_certified_steel_has_a_certificate(workshop):
    given = {
        "conversion_id": workshop.conversion,
        "price": Money(99000, "USD"),
        "mass_kg": 14.2,
        "opening": "closed",
    }
    with workshop.books.writing() as c:
        number = designs.add_design(
            c,
            "Steel bell",
            material="certified steel",
            certificate="T-100",
            certificate_expires=date(2028, 6, 30),
            **given,
        )
        found = designs.get_design(c, number)
        assert found.certificate_expires == date(2028, 6, 30)
        assert found.price == Money(99000, "USD")
        assert [each.name for each in designs.designs(c, workshop.conversion)] == [
            "Cast bell",
            "Steel bell",
        ]
        for more, words in (
            ({"material": "certified steel"}, "certified steel has a number and a last day"),
            ({"material": "cast aluminium", "certificate": "T-1"}, "give both or neither"),
            ({"material": "tin"}, "write cast aluminium or certified steel"),
            ({"material": "cast aluminium", "mass_kg": -1}, "mass"),
        ):
            with pytest.raises(InputError, match=words):
                designs.add_design(c, "Other", **{**given, **more})


def test_one_revision_is_in_force(workshop):
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        assert designs.in_force(c, workshop.design).label == "A"
        with pytest.raises(MoveError, match="revision B: has no characteristics"):
            designs.put_in_force(c, draft, workshop.entry())
        set_characteristics(c, draft, [length_of("depth", 182.4, None, unit="thou")])
        designs.put_in_force(c, draft, workshop.entry())
        states = [(each.label, each.state) for each in designs.revisions(c, workshop.design)]
        assert states == [("A", "superseded"), ("B", "in force")]
        for old in (workshop.revision, draft):
            with pytest.raises(MoveError, match='"in force" is refused'):
                designs.put_in_force(c, old, workshop.entry())
        with pytest.raises(InputError, match='"B" is taken; name the revision otherwise'):
            designs.add_revision(c, workshop.design, "B", workshop.entry())
        with pytest.raises(MissingError, match="no revision number 77"):
            designs.get_revision(c, 77)
        with pytest.raises(MissingError):
            designs.add_revision(c, 77, "A", workshop.entry())


def test_characteristics_keep_their_order_and_their_drawing_unit(workshop):
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        given = [
            position_of("dowel b", 0.05, x_mm=-130.2, y_mm=41, unit="thou"),
            length_of("depth", 182.4, 182.6, unit="inches"),
            length_of("flatness", None, 0.08),
        ]
        numbers = set_characteristics(c, draft, given)
        found = characteristics(c, draft)
        assert [each.id for each in found] == numbers
        assert [each.unit for each in found] == ["thou", "in", "mm"]
        assert [replace(each, id=0) for each in found] == [
            given[0],
            replace(given[1], unit="in"),
            given[2],
        ]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (length_of("depth", None, None), "depth: has no limits"),
        (length_of("depth", 2, 2), "depth: 2 to 2 mm"),
        (length_of("", 1, 2), "characteristic: missing"),
        (length_of("depth", 1, float("nan")), "depth high_mm: nan"),
        (length_of("depth", 1, 2, unit="furlong"), "furlong"),
        (position_of("bore", 0), "bore zone_mm"),
        (position_of("bore", -1), "bore zone_mm"),
        (Characteristic(name="bore", kind="position", zone_mm=1), "zone or point is missing"),
        (Characteristic(name="bore", kind="colour"), "write length or position"),
        (Characteristic(name="d", kind="length", low_mm=1, zone_mm=1), "d: has a zone_mm"),
        (
            Characteristic(name="d", kind="position", zone_mm=1, x_mm=0, y_mm=0, low_mm=1),
            "d: has a low_mm",
        ),
    ],
)
def test_a_characteristic_that_cannot_be(workshop, given, words):
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        kept = set_characteristics(c, draft, [length_of("span", 1, 2)])
        with pytest.raises(InputError, match=words):
            set_characteristics(c, draft, [length_of("other", 1, 2), given])
        assert [each.id for each in characteristics(c, draft)] == kept
        with pytest.raises(InputError, match="listed twice"):
            set_characteristics(c, draft, [length_of("a", 1, 2), length_of("a", 1, 2)])


def test_kits_variants_bills_and_options(workshop):
    with workshop.books.writing() as c:
        (kit,) = kits.kits(c)
        steel = designs.add_design(
            c,
            "Steel bell",
            conversion_id=workshop.conversion,
            material="certified steel",
            price=Money(1, "USD"),
            mass_kg=14,
            opening="closed",
            certificate="T-1",
            certificate_expires=date(2028, 1, 1),
        )
        race = kits.add_variant(c, kit.id, "race", design_id=steel, price=Money(249900, "USD"))
        kits.add_part(c, kit.id, "dowel, plain", count=2, cost=Money(300, "USD"))
        kits.add_part(c, kit.id, "long bolt", count=6, cost=Money(90, "USD"), variant_id=race)
        option = kits.add_option(c, race, "release bearing", Money(8900, "USD"))
        assert [each.name for each in kits.variants(c, kit.id)] == ["race", "street"]
        assert [each.name for each in kits.bill(c, workshop.variant)] == ["dowel, plain"]
        assert [(each.name, each.cost) for each in kits.bill(c, race)] == [
            ("dowel, plain", Money(300, "USD")),
            ("long bolt", Money(90, "USD")),
        ]
        assert [each.id for each in kits.options(c, race)] == [option]
        assert kits.get_variant(c, race).price == Money(249900, "USD")
        other = conversions.add_conversion(
            c, "Other", engine_id=1, gearbox_id=1, depth_mm=1, gap_mm=(1, 2), pilot_mm=1, tir_mm=1
        )
        other_kit = kits.add_kit(c, "Other kit", other)
        with pytest.raises(InputError, match="design: is of another conversion"):
            kits.add_variant(c, other_kit, "x", design_id=steel, price=Money(1, "USD"))
        with pytest.raises(InputError, match="variant: is of another kit"):
            kits.add_part(c, other_kit, "x", count=1, cost=Money(1, "USD"), variant_id=race)
        with pytest.raises(InputError, match="count"):
            kits.add_part(c, kit.id, "x", count=0, cost=Money(1, "USD"))
        with pytest.raises(MissingError, match="no variant number 99"):
            kits.bill(c, 99)
