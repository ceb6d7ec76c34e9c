"""A batch summed up: its yield, what its machining can hold, whether it was steady, what is held.

Capability and charts are the worksheets `capability` and `control-chart`, with the values in the
order in which the bells were born, as machined: what a rework made of a bell is left out, and a
bell that failed is in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from kitwright.books import decisions, designs, inspections, samples
from kitwright.books.characteristics import Characteristic
from kitwright.books.opening import Books
from kitwright.books.shop import get_party
from kitwright.books.standing import Standing
from kitwright.calc.checks import Floats
from kitwright.calc.quality.capability import counted_interval
from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.picture import Picture
from kitwright.shop import batches
from kitwright.shop.batches import BatchView
from kitwright.shop.corrections import SOLD, Corrections, bore_is_known, with_batch
from kitwright.shop.undecided import TooClose, too_close
from kitwright.units import Lead, unit_size
from kitwright.worksheets.declaration import load
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.reading import read

CONFIDENCE: Final = 0.95
"""Of the yield's intervals; the worksheets say theirs."""

_OUTCOMES: Final[Mapping[str, str]] = {
    "held": "held",
    "returned": "held",
    "rejected": "rejected",
    "scrapped": "rejected",
    "withdrawn": "withdrawn",
}


@dataclass(frozen=True, kw_only=True)
class Share:
    """Bells that came out one way: how many, and the share of such bells to come.

    The interval is that of Clopper and Pearson (Biometrika 26 (1934) 404): exact, 95 %. None for
    bells that say nothing about the share: not measured, or not decided.
    """

    what: str
    count: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, kw_only=True)
class Solved:
    """A worksheet's case and answer, and how its pictures are drawn."""

    name: str
    case: Case
    answer: Any

    def pictures(self, *, lead: Lead, palette: Palette = PAGE) -> list[Picture]:
        """The worksheet's own pictures."""
        return pictures_of(self.name, self.case, self.answer, lead=lead, palette=palette)


@dataclass(frozen=True, kw_only=True)
class Chart:
    """A control chart of one characteristic, or of one direction of a position."""

    name: str
    solved: Solved | None
    why_not: str
    """Why there is none, in words."""
    signals: tuple[str, ...]
    """Each signal, and the bells that it is about."""


@dataclass(frozen=True, kw_only=True)
class Process:
    """What the machining of one characteristic came to."""

    about: Characteristic
    count: int
    """Bells with a value of it, as machined."""
    capability: Solved | None
    why_not: str
    charts: tuple[Chart, ...]

    @property
    def signals(self) -> list[str]:
        """Every signal of its charts."""
        return [signal for chart in self.charts for signal in chart.signals]

    def pictures(self, *, lead: Lead, palette: Palette = PAGE) -> list[Picture]:
        """How its values lie, then each chart, named."""
        drawn = []
        if self.capability is not None:
            drawn += self.capability.pictures(lead=lead, palette=palette)[:1]
        for chart in self.charts:
            if chart.solved is not None:
                (picture, *_) = chart.solved.pictures(lead=lead, palette=palette)
                caption = f"{chart.name}; a ring marks a signal."
                drawn.append(replace(picture, caption=caption))
        return drawn


@dataclass(frozen=True, kw_only=True)
class Summary:
    """All that the summary page and the batch's report show."""

    found: BatchView
    design: designs.Design
    revision: designs.Revision
    machinist: str
    shares: tuple[Share, ...]
    processes: tuple[Process, ...]
    too_close: tuple[TooClose, ...]
    samples: tuple[samples.Sample, ...]
    budgets: tuple[Corrections, ...]
    born: tuple[str, ...]
    """Serials in the order born: what the charts' points are."""
    reworked: int
    """Bells that were sent for rework: in the charts as they were machined first."""

    @property
    def lead(self) -> Lead:
        return "in" if self.found.shop.lead == "in" else "mm"

    @property
    def unmeasured(self) -> int:
        """Bells released by a sample and not measured."""
        return next((each.count for each in self.shares if each.what == BY_SAMPLE), 0)

    def say(self) -> str:
        """The batch in a sentence."""
        told = [f"{each.count} {each.what}" for each in self.shares if each.count]
        if not told:
            return f"No bell of batch {self.found.batch.label} is decided yet."
        return f"Of {len(self.found.bells)} bells: {', '.join(told)}."


BY_SAMPLE: Final = "released by sample"
_ORDER: Final = ("released", "conceded", "held", "rejected", "withdrawn")


def summarise(books: Books, batch_id: int) -> Summary:
    """Sum a batch up.

    Raises
    ------
    MissingError
        No such batch.
    """
    found = batches.view(books, batch_id)
    with books.reading() as connection:
        revision = designs.get_revision(connection, found.batch.revision_id)
        machined = inspections.as_machined(connection, batch_id)
        kinds = decisions.kinds_of_batch(connection, batch_id)
        drawn = tuple(samples.samples_of(connection, batch_id))
        design = designs.get_design(connection, revision.design_id)
        machinist = get_party(connection, found.batch.machinist_id).name
    order = sorted(range(len(found.bells)), key=lambda row: found.bells[row].bell_id)
    born = tuple(found.bells[row].serial for row in order)
    return Summary(
        found=found,
        design=design,
        revision=revision,
        machinist=machinist,
        shares=tuple(shares(found.bells, kinds)),
        processes=tuple(
            process(about, machined.mm[order, k], born)
            for k, about in enumerate(machined.characteristics)
        ),
        too_close=tuple(too_close(found)),
        samples=drawn,
        budgets=tuple(with_batch(books, batch_id)) if bore_is_known(found) else (),
        born=born,
        reworked=sum("rework" in each for each in kinds.values()),
    )


def outcome(bell: Standing, kinds: Sequence[str]) -> str:
    """How a bell came out, from its state and the decisions on it; empty while it waits."""
    if bell.state in SOLD:
        return next(_RELEASED[kind] for kind in reversed(kinds) if kind in _RELEASED)
    return _OUTCOMES.get(bell.state, "")


_RELEASED: Final = {"release": "released", decisions.BY_SAMPLE: BY_SAMPLE, "concede": "conceded"}


def shares(bells: Sequence[Standing], kinds: Mapping[int, Sequence[str]]) -> list[Share]:
    """How the bells came out; shares are of those that were decided by their own measurement."""
    counts = Counter(outcome(bell, kinds.get(bell.bell_id, ())) for bell in bells)
    measured = sum(counts[each] for each in _ORDER)
    listed = []
    for what in _ORDER:
        if not measured:
            break
        interval = counted_interval(counts[what], measured, CONFIDENCE)
        listed.append(
            Share(
                what=what,
                count=counts[what],
                share=counts[what] / measured,
                low=interval.low,
                high=interval.high,
            )
        )
    for what, count in ((BY_SAMPLE, counts[BY_SAMPLE]), ("undecided yet", counts[""])):
        if count:
            listed.append(Share(what=what, count=count, share=None, low=None, high=None))
    return listed


# ── the machining ────────────────────────────────────────────────────────────────────────


def process(about: Characteristic, mm: Floats, born: Sequence[str]) -> Process:
    """Capability and charts of one characteristic.

    `mm` has shape (bells, 2) in the order born, NaN where a bell was not measured.
    """
    return _process(about, np.ascontiguousarray(mm).tobytes(), tuple(born))


@lru_cache(maxsize=256)
def _process(about: Characteristic, data: bytes, born: tuple[str, ...]) -> Process:
    """Remembered by the values themselves: a page is looked at more often than a bell is made."""
    mm = np.frombuffer(data).reshape(len(born), 2)
    rows = np.flatnonzero(np.isfinite(mm[:, 0]))
    size = float(unit_size(about.unit))
    values = np.round(mm[rows] / size, 12)
    serials = [born[row] for row in rows.tolist()]
    if about.kind == "position":
        values = np.round((mm[rows] - [about.x_mm or 0.0, about.y_mm or 0.0]) / size, 12)
        case: dict[str, Any] = {
            "unit": about.unit,
            "positions": values.tolist(),
            "zone": f"{about.zone_mm!r} mm",
        }
        charted = [(f"{about.name} x", values[:, 0]), (f"{about.name} y", values[:, 1])]
        needed = 3
    else:
        limits = {"low": about.low_mm, "high": about.high_mm}
        case = {
            "unit": about.unit,
            "values": values[:, 0].tolist(),
            "limits": {end: f"{mm!r} mm" for end, mm in limits.items() if mm is not None},
        }
        charted, needed = [(about.name, values[:, 0])], 2
    solved, why_not = _solved("capability", case, len(rows), needed)
    return Process(
        about=about,
        count=len(rows),
        capability=solved,
        why_not=why_not,
        charts=tuple(_chart(name, column, about.unit, serials) for name, column in charted),
    )


def _chart(name: str, values: Floats, unit: str, serials: Sequence[str]) -> Chart:
    case = {"unit": unit, "kind": "individuals", "values": values.tolist()}
    solved, why_not = _solved("control-chart", case, len(values), 2)
    signals = () if solved is None else tuple(_signals(solved.answer, name, serials))
    return Chart(name=name, solved=solved, why_not=why_not, signals=signals)


def _solved(name: str, case: dict[str, Any], count: int, needed: int) -> tuple[Solved | None, str]:
    """The worksheet's answer, or why it has none."""
    if count < needed:
        return None, f"{count} measured; {needed} or more are needed"
    worksheet = load(name)
    try:
        given = read(worksheet.case, case)
        answer: Answer = worksheet.solve(given)
    except InputError as error:
        first = error.problems[0]
        return None, f"{first.given}; {first.expected}" if first.expected else first.given
    return Solved(name=name, case=given, answer=answer), ""


def _signals(answer: Any, name: str, serials: Sequence[str]) -> list[str]:
    """Each signal of a chart with the serials of its bells."""
    told = [
        (signal.where, f"{name}: {_bells(signal, serials)}: {signal.rule}")
        for signal in answer.signals
    ]
    for signal in answer.spread_signals:
        at = f"{serials[signal.where - 2]} to {serials[signal.where - 1]}"
        told.append((signal.where, f"{name}: {at}: a step beyond the limits"))
    return [words for _, words in sorted(told)]


def _bells(signal: Any, serials: Sequence[str]) -> str:
    first, last = serials[signal.first - 1], serials[signal.through - 1]
    return first if first == last else f"{first} to {last}"
