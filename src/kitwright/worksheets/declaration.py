"""What a worksheet is: one declaration from which every face of it comes."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from kitwright.units import Lead
from kitwright.worksheets.contents import Heading, heading
from kitwright.worksheets.fields import Answer, Case


@dataclass(frozen=True)
class Caution:
    """A caution, shown above the answer on page, terminal and paper.

    `word` grades it as ISO 3864-2 and ANSI Z535 do: DANGER will, WARNING could, CAUTION may hurt.
    """

    word: Literal["DANGER", "WARNING", "CAUTION"]
    text: str


@dataclass(frozen=True, kw_only=True)
class NamedSound:
    """Something to listen to: a word for it, and a WAV file's bytes."""

    name: str
    wav: bytes


@dataclass(frozen=True, kw_only=True)
class Worksheet:
    """One calculation: what it takes, what it answers, how, from which sources, and what hurts.

    `solve` takes a `case` and returns an `answer`; it raises `InputError` for what cannot be
    used. `say` puts an answer into the sentence that a person at the bench would say, in the
    leading unit asked for. `example` is a commented case in TOML that runs as it is.
    """

    heading: Heading
    case: type[Case]
    answer: type[Answer]
    solve: Callable[[Any], Any]
    say: Callable[[Any, Lead], str]
    sources: tuple[str, ...]
    example: str
    cautions: tuple[Caution, ...] = ()
    steps: tuple[str, ...] = ()
    """What to do before there is a case to fill in, in order."""
    sounds: Callable[[Any, Any], Sequence[NamedSound]] | None = None
    """From a case and its answer to what of it can be listened to."""

    @property
    def name(self) -> str:
        return self.heading.name

    @property
    def stage(self) -> str:
        return self.heading.stage

    @property
    def question(self) -> str:
        return self.heading.question


def load(name: str) -> Worksheet:
    """Import the worksheet of this name, and nothing of the others."""
    module = importlib.import_module(heading(name).module)
    worksheet = module.WORKSHEET
    assert isinstance(worksheet, Worksheet)
    return worksheet
