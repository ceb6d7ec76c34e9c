"""An inspection written as QIF Results (ISO 23952:2020), which `qif` reads back exactly.

Written is what is read: the characteristics, each bell's serial, its lengths and places in mm, and
their standard uncertainties. A length is `UserDefinedLinear`, for the books do not say whether it
is a diameter or a depth. No plan, no product, no model: other programs may want more than this.
"""

from __future__ import annotations

import datetime
import math
import uuid
from itertools import count
from typing import Final

from lxml import etree

from kitwright.files.inspection import InspectionTable
from kitwright.files.qif import NAMESPACE, POSITION, tag

_LENGTH: Final = "UserDefinedLinear"
_PLACES: Final = uuid.UUID("5f0f7a5e-6b43-4d0e-9a55-2b8f5a0c7d11")


def write_qif(inspection: InspectionTable, *, title: str, created: datetime.datetime) -> bytes:
    """The inspection as a QIF document; the same inspection gives the same bytes."""
    writer = _Writer()
    root = etree.Element(tag("QIFDocument"), nsmap={None: NAMESPACE}, versionQIF="3.0.0")
    told = f"{title} {created.isoformat()} {inspection.serials}"
    _say(root, "QPId", str(uuid.uuid5(_PLACES, told)))
    version = _under(root, "Version")
    moment = created.astimezone(datetime.UTC).replace(microsecond=0, tzinfo=None)
    _say(version, "TimeCreated", f"{moment.isoformat()}Z")
    header = _under(root, "Header")
    _say(header, "Description", title)
    unit = _under(_under(_under(root, "FileUnits"), "PrimaryUnits"), "LinearUnit")
    _say(unit, "SIUnitName", "meter")
    _say(unit, "UnitName", "mm")
    _say(_under(unit, "UnitConversion"), "Factor", "0.001")
    items = writer.characteristics(root, inspection)
    writer.results(root, inspection, items)
    root.set("idMax", str(writer.last))
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _under(parent: etree._Element, name: str, **attributes: str) -> etree._Element:
    return etree.SubElement(parent, tag(name), attributes)


def _say(parent: etree._Element, name: str, text: str, **attributes: str) -> etree._Element:
    element = _under(parent, name, **attributes)
    element.text = text
    return element


def _decimal(mm: float) -> str:
    """A number without an exponent, which reads back the same.

    >>> _decimal(1e-07), _decimal(158.0)
    ('0.0000001', '158')
    """
    text = repr(float(mm))
    if "e" in text:
        digits = int(text.partition("e-")[2] or 0) + len(text)
        text = f"{mm:.{digits}f}".rstrip("0")
    return text.removesuffix(".0").removesuffix(".")


class _Writer:
    """Numbers everything that others refer to."""

    def __init__(self) -> None:
        self._ids = count(1)
        self.last = 0

    def new(self) -> str:
        """The next id."""
        self.last = next(self._ids)
        return str(self.last)

    def characteristics(self, root: etree._Element, inspection: InspectionTable) -> list[str]:
        """The characteristics in the drawing's order; the id of each."""
        told = inspection.characteristics
        listed = _under(_under(root, "Characteristics"), "CharacteristicItems", n=str(len(told)))
        ids = []
        for each in told:
            kind = POSITION if each.kind == "position" else _LENGTH
            ids.append(self.new())
            item = _under(listed, f"{kind}CharacteristicItem", id=ids[-1])
            _say(item, "Name", each.name)
            designator = _under(item, "CharacteristicDesignator")
            _say(designator, "Designator", each.name)
        return ids

    def results(self, root: etree._Element, inspection: InspectionTable, items: list[str]) -> None:
        """A set of results and a part for each bell."""
        bells = len(inspection.serials)
        results = _under(root, "Results")
        listed = _under(results, "MeasurementResultsSet", n=str(bells))
        parts = _under(_under(results, "ActualComponentSets", n="1"), "ActualComponentSet")
        parts.set("n", str(bells))
        for row, serial in enumerate(inspection.serials):
            part = self.new()
            one = _under(listed, "MeasurementResults", id=self.new())
            self._measured(one, inspection, row, items)
            _say(_under(one, "InspectionStatus"), "InspectionStatusEnum", "UNKNOWN")
            _say(_under(one, "ActualComponentIds", n="1"), "Id", part)
            component = _under(parts, "ActualComponent", id=part)
            _say(component, "SerialNumber", serial)
            _say(_under(component, "Status"), "InspectionStatusEnum", "UNKNOWN")

    def _measured(
        self, one: etree._Element, inspection: InspectionTable, row: int, items: list[str]
    ) -> None:
        told = inspection.characteristics
        places = [k for k, each in enumerate(told) if each.kind == "position"]
        features: dict[int, str] = {}
        if places:
            listed = _under(one, "MeasuredFeatures", n=str(len(places)))
            for k in places:
                features[k] = self.new()
                feature = _under(listed, "CircleFeatureMeasurement", id=features[k])
                x, y = inspection.values_mm[row, k], inspection.y_mm[row, k]
                u = _decimal(inspection.u95_mm[row, k] / 2)
                _say(feature, "Location", f"{_decimal(x)} {_decimal(y)} 0", combinedUncertainty=u)
        listed = _under(
            _under(one, "MeasuredCharacteristics"), "CharacteristicMeasurements", n=str(len(told))
        )
        for k, each in enumerate(told):
            kind = POSITION if each.kind == "position" else _LENGTH
            measured = _under(listed, f"{kind}CharacteristicMeasurement", id=self.new())
            status = _under(measured, "Status")
            _say(status, "CharacteristicStatusEnum", "UNKNOWN")
            _say(measured, "CharacteristicItemId", items[k])
            u = _decimal(inspection.u95_mm[row, k] / 2)
            if k in features:
                _say(_under(measured, "FeatureMeasurementIds", n="1"), "Id", features[k])
                away = 2 * math.hypot(
                    inspection.values_mm[row, k] - each.x_mm, inspection.y_mm[row, k] - each.y_mm
                )
                _say(measured, "Value", _decimal(away), combinedUncertainty=u)
            else:
                _say(
                    measured, "Value", _decimal(inspection.values_mm[row, k]),
                    combinedUncertainty=u,
                )  # fmt: skip
