"""A bell's certificate: what was measured on it, by which rule it was released, and no more."""

from __future__ import annotations

import dataclasses
import datetime
import hashlib
import json
from dataclasses import dataclass
from typing import Any, Final, Literal

from kitwright.errors import InputError
from kitwright.paper.pieces import TitleBlock, caution_data
from kitwright.paper.typesetting import Paper, Svg, typeset
from kitwright.pictures.marks import VERDICTS, Verdict
from kitwright.pictures.palette import PRINT
from kitwright.pictures.target import Mark, target
from kitwright.units import Lead, show_length
from kitwright.worksheets.declaration import Caution

CERTIFIES: Final = (
    "This sheet certifies the measurements listed on it, made on the day and with the instrument "
    "named, and nothing else. It does not say that this bell will hold back parts of a clutch, "
    "flywheel or converter that comes apart."
)
"""Printed on every certificate of a bell that was measured."""

BY_SAMPLE: Final = (
    "Released by sample, not itself measured. This sheet certifies no measurement of this bell: it "
    "says that the sample named on it was drawn from its batch, measured and accepted. It does not "
    "say that this bell is within its limits, and not that it will hold back parts of a clutch, "
    "flywheel or converter that comes apart."
)
"""Printed on the certificate of a bell that was released on the evidence of a sample."""

NOT_MEASURED: Final = "not measured"
"""Stands for the verdict of a characteristic that the drawing has and nobody measured."""

_LONG_LIMITS: Final = 24


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One characteristic as it was measured. `limits` is text, as the drawing says it.

    Value, uncertainty and verdict are None together, where it was not measured.
    """

    name: str
    kind: str
    limits: str
    value_mm: float | None
    u95_mm: float | None
    verdict: Verdict | None


@dataclass(frozen=True, kw_only=True)
class Bore:
    """Where the bore sits in the frame of the drawing: x right, y up, seen from behind."""

    x_mm: float
    y_mm: float
    u95_mm: float
    limit_tir_mm: float


@dataclass(frozen=True, kw_only=True)
class ShellCertificate:
    """The certificate that a certified-steel shell came with, from whoever certified it."""

    number: str
    expires: datetime.date | None


@dataclass(frozen=True, kw_only=True)
class Certificate:
    """All that a certificate says. The same data prints the same text, wherever it is printed.

    A bell is released by the decision rule, or conceded by a named person for a reason; then
    `decided_by` is that person. One that was released by a sample of its batch has the sample's
    words in `sample` and no measurement: neither day, nor person, nor instrument. `code` is what
    the QR carries; empty means the serial. It is no part of what is certified.
    """

    shop_name: str
    serial: str
    design: str
    conversion: str
    material: str
    revision: str
    batch: str
    machinist: str
    inspected_on: datetime.date | None
    inspected_by: str
    instrument: str
    rows: tuple[Measured, ...]
    decision: Literal["released", "conceded"]
    decision_rule: str
    decided_by: str
    decided_on: datetime.date
    reason: str = ""
    bore: Bore | None = None
    shell: ShellCertificate | None = None
    cautions: tuple[Caution, ...] = ()
    lead: Lead = "mm"
    code: str = ""
    sample: str = ""

    def __post_init__(self) -> None:
        measured = any(row.verdict is not None for row in self.rows)
        if self.sample and (measured or self.inspected_on is not None):
            raise InputError("sample", "given with measurements", "a measured bell needs no sample")
        if not self.sample and (not measured or self.inspected_on is None):
            raise InputError("rows", "nothing was measured", "a certificate lists measurements")
        if self.decision == "conceded" and not self.reason.strip():
            raise InputError("reason", "missing", "say why the bell is conceded")

    @property
    def content(self) -> str:
        """The first 12 hexadecimal digits of SHA-256 over all but `code`, printed on the sheet."""
        said = dataclasses.asdict(self)
        del said["code"]
        if not self.sample:
            del said["sample"]  # others keep the fingerprint that was printed on them
        plain = json.dumps(
            said,
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=True,
            allow_nan=False,
            default=datetime.date.isoformat,
        )
        return hashlib.sha256(plain.encode("ascii")).hexdigest()[:12]

    def say(self) -> str:
        """The decision in a sentence."""
        if self.sample:
            return "Released by sample, not itself measured."
        measured = [row for row in self.rows if row.verdict is not None]
        counts = {word: sum(row.verdict == word for row in self.rows) for word in VERDICTS}
        parts = [
            f"{count} {word}" + (" their limits" if word == "within" else "")
            for word, count in counts.items()
            if count
        ]
        found = f"{_count(len(measured))} measured: {', '.join(parts)}"
        if counts["within"] == len(measured):
            found = f"{_count(len(measured))} measured, all within their limits"
        if len(measured) < len(self.rows):
            found += f"; {len(self.rows) - len(measured)} not measured"
        if self.decision == "released":
            return f"Released. {found}."
        return f"Conceded by {self.decided_by}: {self.reason.strip().rstrip('.')}. {found}."


def certificate_pdf(certificate: Certificate, *, paper: Paper = "a4") -> bytes:
    """The certificate as a PDF: one page, as long as its characteristics fit on it."""
    return typeset(
        "certificate",
        certificate_data(certificate),
        title=f"Certificate of measurement, bell {certificate.serial}",
        date=certificate.decided_on,
        paper=paper,
    )


def certificate_data(certificate: Certificate) -> dict[str, Any]:
    """What the template prints."""
    block = TitleBlock(
        what="Certificate of measurement",
        name_label="Serial",
        name=certificate.serial,
        revision=certificate.revision,
        content=certificate.content,
        shop=certificate.shop_name,
        date=certificate.decided_on,
        code=certificate.code or certificate.serial,
    )
    return {
        "info": block.data(),
        "serial": certificate.serial,
        "sentence": certificate.say(),
        "about": list(_about(certificate)),
        "target": _target(certificate),
        "cautions": caution_data(certificate.cautions),
        "rows": [_row(row, certificate.lead) for row in certificate.rows],
        "long_limits": any(len(row.limits) > _LONG_LIMITS for row in certificate.rows),
        "rule": certificate.decision_rule,
        "certifies": BY_SAMPLE if certificate.sample else CERTIFIES,
    }


def _count(number: int) -> str:
    return f"{number} characteristic{'' if number == 1 else 's'}"


def _about(one: Certificate) -> list[tuple[str, str]]:
    decided = f"{one.decision} by {one.decided_by}, {one.decided_on.isoformat()}"
    inspected = "not itself measured"
    if one.inspected_on is not None:
        inspected = f"{one.inspected_on.isoformat()} by {one.inspected_by}"
    rows = [
        ("Design", one.design),
        ("Conversion", one.conversion),
        ("Material", one.material),
        ("Revision", one.revision),
        ("Batch", one.batch),
        ("Machined by", one.machinist),
        ("Inspected", inspected),
        ("Instrument", one.instrument),
        ("Sample", one.sample),
        ("Decision", decided),
    ]
    if one.shell is not None:
        expires = (
            f", expires {one.shell.expires.isoformat()}"
            if one.shell.expires
            else ", no expiry was given"
        )
        rows.append(
            (
                "Shell's certificate",
                f"number {one.shell.number}{expires}; check the current rule book",
            )
        )
    return [(label, text) for label, text in rows if text]


def _row(row: Measured, lead: Lead) -> dict[str, Any]:
    if row.value_mm is None or row.u95_mm is None:
        return {
            "name": row.name,
            "kind": row.kind,
            "limits": row.limits,
            "leading": "",
            "uncertainty": "",
            "other": "",
            "verdict": NOT_MEASURED,
        }
    value = show_length(row.value_mm, lead=lead, uncertainty_mm=row.u95_mm)
    spread = show_length(row.u95_mm, lead=lead, uncertainty_mm=row.u95_mm)
    return {
        "name": row.name,
        "kind": row.kind,
        "limits": row.limits,
        "leading": value.leading,
        "uncertainty": f"± {spread.leading}",
        "other": value.other,
        "verdict": row.verdict,
    }


def _target(one: Certificate) -> dict[str, Any] | None:
    if one.bore is None:
        return None
    bore = one.bore
    drawn = target(
        limit_tir_mm=bore.limit_tir_mm,
        marks=[Mark(x_mm=bore.x_mm, y_mm=bore.y_mm, u95_mm=bore.u95_mm, label=one.serial)],
        lead=one.lead,
        palette=PRINT,
        title=f"Where the bore of bell {one.serial} sits",
    )
    return {
        "svg": Svg(drawn),
        "caption": (
            f"The bore's centre as inspected, {_where(bore, one.lead)} as seen from behind; the "
            "thin ring is its uncertainty, k = 2."
        ),
    }


def _where(bore: Bore, lead: Lead) -> str:
    """The offset in words: its two parts as the drawing's axes have them."""

    def part(mm: float, ways: tuple[str, str]) -> str:
        size = show_length(abs(mm), lead=lead, uncertainty_mm=bore.u95_mm).leading
        return f"{size} {ways[mm < 0]}"

    return f"{part(bore.x_mm, ('right', 'left'))} and {part(bore.y_mm, ('up', 'down'))}"
