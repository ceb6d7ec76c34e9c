"""A batch's summary as tables of text: the same on its page, in the terminal and on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kitwright.shop.judging import limits_in_words
from kitwright.shop.summary import Process, Summary
from kitwright.shop.undecided import TooClose
from kitwright.units import Lead, plain, show_length
from kitwright.worksheets.showing import say_chance


@dataclass(frozen=True, kw_only=True)
class Told:
    """A table: what it is, its columns, its rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def shares_table(shown: Summary) -> Told:
    """How the bells came out."""
    rows = []
    for each in shown.shares:
        share = between = ""
        if each.share is not None and each.low is not None and each.high is not None:
            share = f"{100 * each.share:.1f} %"
            between = f"{100 * each.low:.1f} to {100 * each.high:.1f} %"
        rows.append((each.what, str(each.count), share, between))
    return Told(
        title="Yield",
        columns=("Came out", "Bells", "Share", "Between, 95 %"),
        rows=tuple(rows),
    )


def shares_note(shown: Summary) -> str:
    """What the shares rest on."""
    told = (
        "Shares are of the bells that were decided by their own measurement, as they stand; the "
        "interval is exact (Clopper and Pearson) and is for the next bells of such a process."
    )
    if shown.unmeasured:
        told += (
            f" {shown.unmeasured} bells are released by sample and not measured: they are in no "
            "other figure here."
        )
    return told


def processes_table(shown: Summary) -> Told:
    """Capability and steadiness of each characteristic."""
    return Told(
        title="What the machining holds",
        columns=(
            "Characteristic",
            "Holds the drawing",
            "Signals",
            "Ppk",
            "Between, 95 %",
            "Outside",
            "At most, 95 %",
            "Bells",
            "Limits",
        ),
        rows=tuple(_process_row(each, shown.lead) for each in shown.processes),
    )


def _process_row(one: Process, lead: Lead) -> tuple[str, ...]:
    tail = str(one.count), limits_in_words(one.about, lead=lead)
    charted = any(chart.solved is not None for chart in one.charts)
    signals = str(len(one.signals)) if charted else ""
    if one.capability is None:
        return (one.about.name, one.why_not, signals, "", "", "", "", *tail)
    answer = one.capability.answer
    return (
        one.about.name,
        answer.holds,
        signals,
        f"{answer.ppk.value:.2f}",
        f"{answer.ppk.low:.2f} to {answer.ppk.high:.2f}",
        _outside(answer.chance_outside),
        _outside(answer.chance_outside_high),
        *tail,
    )


def _outside(chance: float) -> str:
    """A share outside, no finer than a batch can tell."""
    return "under 0.001 %" if chance < 1e-5 else say_chance(chance)


def processes_note(shown: Summary) -> str:
    """What capability and charts rest on."""
    told = (
        "Values stand in the order in which the bells were born, as machined; a position's chart "
        "has one for each direction. It holds the drawing where at most 0.27 % lie outside."
    )
    if shown.reworked:
        bells = "bell was" if shown.reworked == 1 else "bells were"
        told += f" {shown.reworked} {bells} reworked: in here as they were before."
    return told


def signals_list(shown: Summary) -> list[str]:
    """Every signal of every chart, by characteristic."""
    return [signal for each in shown.processes for signal in each.signals]


def too_close_table(found: Sequence[TooClose], *, lead: Lead) -> Told:
    """What measuring better would change."""
    return Told(
        title="Held, and what would decide them",
        columns=(
            "Bell",
            "Characteristic",
            "Likely",
            "Conforms",
            "Measured",
            "Known to",
            "From its limit",
            "To be known to",
            "What to do",
        ),
        rows=tuple(_too_close_row(each, lead) for each in found),
    )


def _too_close_row(one: TooClose, lead: Lead) -> tuple[str, ...]:
    def size(mm: float, by: float) -> str:
        return show_length(mm, lead=lead, uncertainty_mm=by).leading

    side = "inside" if one.clearance_mm >= 0 else "beyond"
    return (
        one.serial,
        one.about.name,
        one.likely,
        say_chance(one.chance_conforms),
        size(one.value_mm, one.u95_mm),
        f"± {size(one.u95_mm, one.u95_mm)}",
        f"{_small(abs(one.clearance_mm), lead)} {side}",
        f"± {_small(one.u95_needed_mm, lead)}" if one.u95_needed_mm else "",
        one.advice,
    )


def _small(mm: float, lead: Lead) -> str:
    """A length far below a limit, in two figures.

    >>> _small(0.00062, "mm"), _small(0.00062, "in"), _small(0.0, "mm")
    ('0.62 µm', '0.024 thou', '0 µm')
    """
    number, unit = (mm / 0.0254, "thou") if lead == "in" else (1000 * mm, "µm")
    figures = 0 if number == 0 else max(0, 1 - math.floor(math.log10(number)))
    return f"{plain(number, figures)} {unit}"


def budgets_table(shown: Summary) -> Told:
    """Corrections per hundred with exactly these bells."""
    return Told(
        title="How many fitters would have to correct, with exactly these bells",
        columns=("On", "Corrections per 100", "Bells", "Reckoned"),
        rows=tuple(
            (
                f"{each.block} blocks",
                f"{each.answer.corrections_per_100:.2g}",
                str(each.bells),
                each.answer.method,
            )
            for each in shown.budgets
        ),
    )


def budgets_notes(shown: Summary) -> list[str]:
    """What each of these rests on."""
    return [f"On {each.block} blocks it rests on {each.rests_on}." for each in shown.budgets]
