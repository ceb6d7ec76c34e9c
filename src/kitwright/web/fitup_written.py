"""What was written at a stage of a fit-up, as labels and values for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from kitwright.shop import dowels_in
from kitwright.shop.fitup_stages import Field, Stage
from kitwright.units import say_clock


def written(stage: Stage, said: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Label and value of each field that was filled, as it was typed."""
    unit = str(said.get("unit", ""))
    if stage.works == "dowels":
        yield from _dowels(said)
    if stage.works == "sweep":
        places = ", ".join(
            f"{'12 again' if clock == 360 else _hour(clock)} {str(typed).replace('-', '−')}"
            for clock, typed in said["readings"]
        )
        yield f"Readings, {unit}", places
        yield "Graduation", f"{said.get('graduation')} {unit}"
    for field in stage.fields:
        value = said.get(field.name)
        if value not in (None, "", [], False):
            yield field.label, _value(field, value, unit)


def _hour(clock_deg: float) -> str:
    return say_clock(clock_deg).removesuffix(" o'clock").replace("half past ", "") + (
        ":30" if "half" in say_clock(clock_deg) else ""
    )


def _value(field: Field, value: Any, unit: str) -> str:
    if field.kind == "check":
        return "yes"
    if field.kind == "choice":
        return dict(field.options).get(str(value), str(value))
    if field.kind == "text":
        return str(value)
    coarse = "in" if unit == "thou" else unit
    shown = ", ".join(str(each) for each in value if each) if field.kind == "lengths" else value
    return f"{shown} {unit if field.kind == 'fine' else coarse}"


def _dowels(said: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name in "ab":
        size = str(said.get(f"{name}_size") or dowels_in.PLAIN)
        slot = str(said.get(f"{name}_clock_deg") or "").strip()
        if size == dowels_in.PLAIN or not slot:
            yield f"Dowel {name}", size
            continue
        hour = say_clock(float(slot.removesuffix("°")))
        yield f"Dowel {name}", f"{size}, slot at {hour} ({slot.removesuffix('°')}°)"
