"""What has changed under a promise since it was made, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


def changes(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """What another answer of the worksheet `promise` would come from, from one case to the other.

    Parameters
    ----------
    then, now : the worksheet's cases, as kept with the promise and as asked today
    """
    return [*_batches(then, now), *_place(then, now), *_parts(then, now), *_wanted(then, now)]


def _batches(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    was = {each["name"]: each for each in then.get("batches", [])}
    known = {each["name"]: each for each in now.get("batches", [])}
    for name, before in was.items():
        after = known.get(name)
        if after is None:
            yield f"batch {name} brings no more: its bells are decided on"
            continue
        if after.get("back") and not before.get("back"):
            yield f"batch {name} is back"
        elif after["due"] != before["due"]:
            way = "slipped" if after["due"] > before["due"] else "came forward"
            yield f"batch {name} {way} from {before['due']} to {after['due']}"
        if after["count"] != before["count"]:
            yield f"batch {name} has {after['count']} bells to come, it had {before['count']}"
        if len(after.get("others_overdue", [])) > len(before.get("others_overdue", [])):
            yield f"another batch of the machinist of {name} is overdue"
        if after["days_late"] != before["days_late"]:
            more = len(after["days_late"]) - len(before["days_late"])
            if more > 0:
                told = "1 more batch" if more == 1 else f"{more} more batches"
                yield f"{told} of the machinist of {name} came back since"
    for name, after in known.items():
        if name not in was:
            yield f"batch {name}, {after['count']} bells due {after['due']}, is new"


def _place(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    for key, words in (("ahead", "orders before it"), ("on_shelf", "free bells")):
        before, after = then.get(key, 0), now.get(key, 0)
        if before != after:
            yield f"{words}: {before} then, {after} now"


def _parts(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    was = {each["name"] for each in then.get("parts_short", [])}
    known = {each["name"] for each in now.get("parts_short", [])}
    for name in sorted(known - was):
        yield f"{name} is short now"
    for name in sorted(was - known):
        yield f"{name} is here now"


def _wanted(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    if then.get("chance") != now.get("chance"):
        yield f"days must hold with {now['chance']:.0%}, it was {then['chance']:.0%}"
