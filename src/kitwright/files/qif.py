"""Inspections as QIF Results (ISO 23952:2020, QIF 3): a part a bell, with what was measured on it.

Read are each part's serial number, the lengths and positions measured on it, and their
uncertainty. A position is read from the place of its measured feature. What is not understood is
refused, a line each, by serial and characteristic; one fault anywhere, and nothing is taken.

References
----------
.. [1] ISO 23952:2020 (ANSI QIF 3.0): the names of its elements are those of its open schema.
.. [2] JCGM 100:2008 (GUM), 2.3.4: a combined uncertainty is a standard one, k = 1.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree

from kitwright.errors import FileError, InputError, Problem
from kitwright.files.inspection import (
    LARGEST_MM,
    LONGEST_SERIAL,
    Expected,
    InspectionTable,
    wanted_columns,
)
from kitwright.files.markup import read_xml
from kitwright.files.qif_units import Units, number_of, units_of
from kitwright.files.tables import every_fault

NAMESPACE: Final = "http://qifstandards.org/xsd/qif3"
_FAMILY: Final = "http://qifstandards.org/xsd/qif"

LENGTHS: Final = frozenset(
    {
        *("Diameter", "Radius", "SphericalDiameter", "SphericalRadius", "Chord", "CurveLength"),
        *("Depth", "Height", "Length", "Thickness", "Width", "Square"),
        *("DistanceBetween", "DistanceFrom", "LinearCoordinate", "UserDefinedLinear"),
        *("Flatness", "Straightness", "Circularity", "Cylindricity", "Conicity", "Sphericity"),
        *("Parallelism", "Perpendicularity", "Angularity", "Concentricity", "Coaxiality"),
        *("CircularRunout", "TotalRunout", "LineProfile", "PointProfile", "SurfaceProfile"),
    }
)
"""Kinds of characteristics whose one value is a length."""
POSITION: Final = "Position"
_MEASUREMENT: Final = "CharacteristicMeasurement"
_ITEM: Final = "CharacteristicItem"
_PLACES_MOVED: Final = ("ActualTransforms", "CoordinateSystemActualTransformAssociations")
_OWN_AXIS: Final = ("xCombinedUncertainty", "yCombinedUncertainty")
_SLACK_MM: Final = 0.001


@dataclass(frozen=True)
class QifDocument:
    """A QIF file, taken apart but not yet understood."""

    name: str
    root: etree._Element


@dataclass(frozen=True)
class _Value:
    """One characteristic of one bell, in mm; `y` is NaN for a length."""

    x: float
    y: float
    u95: float


@dataclass(frozen=True)
class _Item:
    """A characteristic as the file names it, and as the drawing does where it is known there."""

    called: str
    expected: Expected | None


def open_qif(data: bytes, *, name: str = "file") -> QifDocument:
    """The document in the bytes of a QIF file.

    Raises
    ------
    FileError
        It is no XML that can be taken (`markup.read_xml`), or no QIF of the third version.
    """
    root = read_xml(data, name=name)
    found = etree.QName(root)
    if found.localname != "QIFDocument" or not (found.namespace or "").startswith(_FAMILY):
        given = f'its root is "{found.localname[:40]}", not a QIF document'
        raise FileError(name, given, "hand in QIF Results, CSV or XLSX")
    if found.namespace != NAMESPACE:
        given = f'QIF of another version ("{(found.namespace or "")[:60]}")'
        raise FileError(name, given, "save it as QIF 3 (ISO 23952)")
    return QifDocument(name, root)


def read_qif(document: QifDocument, expected: Sequence[Expected]) -> InspectionTable:
    """The inspection in a QIF document, or every fault by serial and characteristic.

    Raises
    ------
    FileError
        A unit that is not said, a part without a serial or measured twice, a characteristic that
        is not on the drawing, of another kind, measured twice or not at all, a value that is not a
        plain number, a value without its uncertainty, a place in another frame; no results.
    """
    wanted_columns(expected)
    units = units_of(document.root, document.name)
    reader = _Reader(document.root, expected, units)
    faults = list(reader.read())
    found = reader.found
    for serial, values in found.items():
        faults += [
            Problem(f"{serial}, {each.name}", "not measured", "measure it, or leave the bell out")
            for each in expected
            if each.name not in values and (serial, each.name) not in reader.tried
        ]
    if not found and not faults:
        faults.append(Problem(document.name, "it holds no results", "export the measured parts"))
    if faults:
        raise every_fault(list(dict.fromkeys(faults)))
    table = np.array(
        [
            [(one.x, one.y, one.u95) for one in (values[each.name] for each in expected)]
            for values in found.values()
        ]
    )
    return InspectionTable(
        serials=tuple(found),
        characteristics=tuple(expected),
        values_mm=table[:, :, 0],
        y_mm=table[:, :, 1],
        u95_mm=table[:, :, 2],
        units=dict.fromkeys(wanted_columns(expected), units.primary),
        row_numbers=range(1, len(found) + 1),
    )


def tag(name: str) -> str:
    """An element's name with its namespace, as lxml has it."""
    return f"{{{NAMESPACE}}}{name}"


def path(*names: str) -> str:
    """A way down the tree."""
    return "/".join(tag(name) for name in names)


def _local(element: etree._Element) -> str:
    return etree.QName(element).localname


def _text(element: etree._Element | None) -> str:
    return "" if element is None else " ".join((element.text or "").split())


class _Reader:
    """Goes through the results once; `found` holds serial → characteristic → value."""

    def __init__(self, root: etree._Element, expected: Sequence[Expected], units: Units) -> None:
        self.root, self.units = root, units
        self.by_name = {" ".join(each.name.split()): each for each in expected}
        self.found: dict[str, dict[str, _Value]] = {}
        self.tried: set[tuple[str, str]] = set()
        """What was there and could not be read: said once, by its own fault."""
        self.items: dict[str, _Item | Problem] = {}
        self.serials: dict[str, str] = {}

    def read(self) -> Iterator[Problem]:
        """Every fault, as they come."""
        results = self.root.find(tag("Results"))
        if results is None:
            yield Problem("Results", "there are none in the file", "export the measured parts")
            return
        if next(results.iterfind(".//*[@xId]"), None) is not None:
            yield Problem("Results", "they refer to another file (xId)", "put both into one file")
            return
        yield from self._read_parts(results)
        self._read_items()
        for one in results.iterfind(path("MeasurementResultsSet", "MeasurementResults")):
            yield from self._read_one(one)

    def _read_parts(self, results: etree._Element) -> Iterator[Problem]:
        """Id of each measured part → its serial."""
        way = path("ActualComponentSets", "ActualComponentSet", "ActualComponent")
        taken: set[str] = set()
        for part in results.iterfind(way):
            serial, number = _text(part.find(tag("SerialNumber"))), part.get("id", "")
            told = ("", "")
            if not serial:
                told = "has no SerialNumber", "give each bell its serial"
            elif len(serial) > LONGEST_SERIAL or not serial.isprintable():
                told = "has a serial that cannot be", f"give {LONGEST_SERIAL} characters at most"
            elif serial in taken:
                told = f'bears "{serial}", as another part does', "give each bell its own"
            if told[0]:
                yield Problem(f"part {number}", *told)
            taken.add(serial)
            self.serials[number] = serial

    def _read_items(self) -> None:
        """Id of each characteristic item → what it is on the drawing."""
        for item in self.root.iterfind(path("Characteristics", "CharacteristicItems", "*")):
            name = _text(item.find(tag("Name")))
            designator = _text(item.find(path("CharacteristicDesignator", "Designator")))
            known = [self.by_name[each] for each in (name, designator) if each in self.by_name]
            called = name or designator or f"characteristic {item.get('id', '')}"
            if len({each.name for each in known}) > 1:
                given = f'its name is "{name}" and its designator "{designator}"'
                self.items[item.get("id", "")] = Problem(
                    called, given, "these are two characteristics of the drawing: leave one"
                )
            else:
                self.items[item.get("id", "")] = _Item(called, known[0] if known else None)

    def _read_one(self, one: etree._Element) -> Iterator[Problem]:
        """The measurements of one set of results."""
        where = f"results {one.get('id', '')}"
        if moved := [name for name in _PLACES_MOVED if one.find(tag(name)) is not None]:
            yield Problem(
                where, f"its places are moved ({moved[0]})", "give them in the drawing's frame"
            )
            return
        parts = [_text(each) for each in one.iterfind(path("ActualComponentIds", "Id"))]
        measured = one.findall(path("MeasuredCharacteristics", "CharacteristicMeasurements", "*"))
        features = {
            each.get("id", ""): each for each in one.iterfind(path("MeasuredFeatures", "*"))
        }
        for measurement in measured:
            named = _text(measurement.find(tag("ActualComponentId")))
            of = [named] if named else parts
            if len(of) != 1 or of[0] not in self.serials:
                given = f"{len(of)} parts are named" if len(of) != 1 else f"no part {of[0]}"
                yield Problem(where, given, "say by ActualComponentIds which bell was measured")
                return
            serial = self.serials[of[0]]
            if serial:
                yield from self._read_measurement(serial, measurement, features)
        if len(parts) == 1 and not measured and self.serials.get(parts[0]):
            self.found.setdefault(self.serials[parts[0]], {})

    def _read_measurement(
        self, serial: str, measurement: etree._Element, features: dict[str, etree._Element]
    ) -> Iterator[Problem]:
        number = _text(measurement.find(tag("CharacteristicItemId")))
        item = self.items.get(number)
        if item is None:
            given = f"measures characteristic {number}, which is not in the file"
            yield Problem(serial, given, "keep it in one file with its characteristics")
            return
        if isinstance(item, Problem):
            yield item
            return
        values = self.found.setdefault(serial, {})
        if item.expected is None:
            near = difflib.get_close_matches(item.called, self.by_name, n=1)
            hint = f'did you mean "{near[0]}"?' if near else "leave it out"
            yield Problem(item.called, "is not on the drawing", hint)
            return
        where, name = f"{serial}, {item.called}", item.expected.name
        if name in values or (serial, name) in self.tried:
            yield Problem(where, "measured twice", "give one value")
            return
        try:
            values[name] = self._value(where, item.expected, measurement, features)
        except InputError as error:
            self.tried.add((serial, name))
            yield from error.problems

    def _value(
        self,
        where: str,
        expected: Expected,
        measurement: etree._Element,
        features: dict[str, etree._Element],
    ) -> _Value:
        kind = _local(measurement).removesuffix(_MEASUREMENT)
        if expected.kind == "position" and kind != POSITION:
            raise InputError(where, f'measured as "{kind}"', "the drawing has a position")
        if expected.kind == "length" and kind not in LENGTHS:
            raise InputError(where, f'measured as "{kind}"', "the drawing has a length")
        value = measurement.find(tag("Value"))
        if expected.kind == "position":
            return self._position(where, expected, value, self._place_of(measurement, features))
        if value is None:
            raise InputError(where, "it has no Value", "measure it, or leave the bell out")
        mm = self._number(where, value)
        return _Value(mm, math.nan, self._u95(where, value, ("combinedUncertainty",)))

    def _place_of(
        self, measurement: etree._Element, features: dict[str, etree._Element]
    ) -> etree._Element | None:
        """Where the one feature of a measurement was measured."""
        ids = [_text(each) for each in measurement.iterfind(path("FeatureMeasurementIds", "Id"))]
        feature = features.get(ids[0]) if len(ids) == 1 else None
        return None if feature is None else feature.find(tag("Location"))

    def _position(
        self,
        where: str,
        expected: Expected,
        value: etree._Element | None,
        place: etree._Element | None,
    ) -> _Value:
        """A place, and the diameter that the file says of it, which must agree."""
        if place is None:
            raise InputError(
                where, "no measured feature gives its place", "export its feature's Location"
            )
        read = self._place(where, place)
        if value is not None:
            said = self._number(where, value)
            seen = 2 * math.hypot(read.x - expected.x_mm, read.y - expected.y_mm)
            if abs(said - seen) > read.u95 + _SLACK_MM:
                given = f"its place is Ø {seen:.4g} mm from true, its Value says {said:.4g} mm"
                raise InputError(
                    where, given, "give the place in the drawing's frame, x right, y up"
                )
        return read

    def _place(self, where: str, place: etree._Element) -> _Value:
        written = _text(place)
        numbers = [number_of(each) for each in written.split(" ")]
        if len(numbers) != 3 or any(each is None for each in numbers):
            raise InputError(where, f'"{written[:60]}" is not a place', "give x, y and z")
        size = self._size(where, place)
        x, y = (round((each or 0.0) * size, 12) for each in numbers[:2])
        if max(abs(x), abs(y)) > LARGEST_MM:
            raise InputError(where, f'"{written[:60]}" is beyond any bell', "check its unit")
        # What is given for an axis counts before what is given for all of them.
        both = "combinedUncertainty"
        names = [own if place.get(own) else both for own in _OWN_AXIS]
        return _Value(x, y, self._u95(where, place, names))

    def _u95(self, where: str, value: etree._Element, names: Sequence[str]) -> float:
        """The largest of these standard uncertainties, doubled [2]_."""
        for name in ("meanError", "xMeanError", "yMeanError"):
            if value.get(name) is not None and number_of(value.get(name, "")) != 0:
                raise InputError(where, f"it has a {name}", "correct the value by it first")
        largest = 0.0
        for name in names:
            written = value.get(name)
            if written is None:
                raise InputError(where, f"it has no {name}", "say how well it is known")
            number = number_of(written)
            if number is None or number < 0:
                given = f'{name} "{written.strip()[:40]}" is not an uncertainty'
                raise InputError(where, given, "give zero or more")
            largest = max(largest, number)
        u95 = round(2 * largest * self._size(where, value), 12)
        if u95 > LARGEST_MM:
            raise InputError(where, f"an uncertainty of {u95:g} mm is beyond any bell", "check it")
        return u95

    def _number(self, where: str, value: etree._Element) -> float:
        written = _text(value)
        number = number_of(written)
        if number is None:
            given = f'Value "{written[:40]}" is not a number' if written else "its Value is empty"
            raise InputError(where, given, "write a plain number")
        mm = round(number * self._size(where, value), 12)
        if abs(mm) > LARGEST_MM:
            raise InputError(where, f'Value "{written[:40]}" is beyond any bell', "check its unit")
        return mm

    def _size(self, where: str, value: etree._Element) -> float:
        """mm in the unit of a value."""
        unit = value.get("linearUnit")
        size = self.units.sizes_mm.get(self.units.primary if unit is None else unit.strip())
        if size is None:
            raise InputError(where, f'unit "{unit}" is not in FileUnits', "say what it is there")
        return size
