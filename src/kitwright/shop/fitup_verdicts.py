"""What a record of a fit-up came to, where a worksheet stands behind its stage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kitwright.books.fitup_talk import Record
from kitwright.calc.quality.conformity import Verdict
from kitwright.shop import pilot_engagement
from kitwright.worksheets.quality.conformity import ConformityAnswer

JUDGED: Final = ("face", "gap", "pilot")
"""Stages whose newest record has a verdict of its own; the bore's is that of its newest sweep."""


def newest(records: Sequence[Record], stage: str) -> Record | None:
    """The newest record of a stage that stands."""
    return next((each for each in reversed(records) if each.stage == stage), None)


def verdict_of(record: Record) -> Verdict:
    """The verdict in a record's answer."""
    if record.worksheet == pilot_engagement.WORKSHEET:
        return pilot_engagement.verdict(pilot_answers(record))
    verdict: Verdict = record.answer_json["verdict"]
    return verdict


def pilot_answers(record: Record) -> dict[str, ConformityAnswer]:
    """The two answers that a record of the stage "pilot" keeps."""
    return {
        name: ConformityAnswer.model_validate(each) for name, each in record.answer_json.items()
    }


def verdicts(records: Sequence[Record]) -> Iterator[tuple[str, Verdict]]:
    """Each judged stage that was recorded, with its verdict."""
    for stage in JUDGED:
        record = newest(records, stage)
        if record is not None:
            yield stage, verdict_of(record)
