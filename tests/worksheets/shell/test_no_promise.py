"""No output of the shell's worksheets promises anything: the words never appear, in any face."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from kitwright.cli.terminal import answer_text
from kitwright.errors import InputError
from kitwright.paper.worksheet_sheet import worksheet_pdf
from kitwright.pictures.answers import pictures_of
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.shell.containment_case import WALL_STOCK
from kitwright.worksheets.writing import flat

PROMISES = re.compile(
    r"\b(?:un)?safe(?:ly|ty|r|st)?\b|\bpass(?:es|ed|ing)?\b|\bcontain(?:s|ed|ing)?\b"
    r"|\bwithst[ao]\w+|\bprotect\w*|\bguarantee\w*|\bstrong enough\b|\badequate\w*|\bsufficient\w*"
    r"|\bsurviv\w+|\bresist\w*|\bhold(?:s|ing)? (?:the )?(?:fragments|pieces)\b|\bapproved?\b",
    re.IGNORECASE,
)

WORDS = st.text("abcdefgh ", min_size=1, max_size=12).map(lambda s: f"n{s}")
CONTAINMENT = st.fixed_dictionaries(
    {
        "mass_kg": st.floats(0.05, 80),
        "outer_radius": st.integers(60, 400).map("{} mm".format),
        "speed_rpm": st.floats(50, 20_000),
        "walls": st.lists(
            st.fixed_dictionaries(
                {
                    "name": WORDS,
                    "material": st.sampled_from(sorted(WALL_STOCK)),
                    "thickness": st.floats(0.2, 150).map("{:.3f} mm".format),
                }
            ),
            min_size=1,
            max_size=3,
            unique_by=lambda wall: wall["name"],
        ),
        "pieces": st.lists(
            st.fixed_dictionaries(
                {
                    "name": WORDS,
                    "mass_kg": st.floats(1e-4, 0.5),
                    "radius": st.just("100 mm"),
                    "across": st.floats(2, 60).map("{:.2f} mm".format),
                }
            ),
            max_size=1,
        ),
    }
)
DAYS = st.dates(datetime.date(2020, 1, 1), datetime.date(2035, 1, 1)).map(str)
AMOUNT = st.integers(1, 300_000).map(
    lambda cents: {"amount": f"{cents / 100:.2f}", "currency": "USD"}
)
CHOOSE = st.fixed_dictionaries(
    {
        "use": WORDS,
        "day_of_use": DAYS,
        "noise_wish": st.sampled_from(["as quiet as can be", "does not matter"]),
        "hand_room_wish": st.sampled_from(["as roomy as can be", "does not matter"]),
        "rules": st.lists(
            st.fixed_dictionaries(
                {
                    "body": WORDS,
                    "use": WORDS,
                    "demands": st.sampled_from(["certified shell", "no certified shell"]),
                    "applies": st.sampled_from(["by its limits", "yes", "no"]),
                },
                optional={"from_power_kw": st.floats(1, 900), "copied_on": DAYS, "spec": WORDS},
            ),
            max_size=2,
        ),
        "designs": st.lists(
            st.tuples(
                st.fixed_dictionaries(
                    {
                        "name": WORDS,
                        "material": WORDS,
                        "mass_kg": st.floats(1, 40),
                        "price": AMOUNT,
                        "ships": st.booleans(),
                    },
                    optional={"ring_s": st.floats(0.01, 9), "ships_on": DAYS},
                ),
                st.one_of(
                    st.just({"certified": False}),
                    DAYS.map(lambda day: {"certified": True, "certificate_last_day": day}),
                ),
            ).map(lambda parts: {**parts[0], **parts[1]}),
            min_size=1,
            max_size=4,
            unique_by=lambda design: design["name"],
        ),
    },
    optional={"budget": AMOUNT, "wanted_by": DAYS, "power_kw": st.floats(1, 900)},
)


def said_of(worksheet: Worksheet, data: dict[str, Any]) -> Iterator[str]:
    """All that terminal, API, page and picture say of a case."""
    try:
        case = read(worksheet.case, data)
        answer = worksheet.solve(case)
    except InputError as error:
        yield from error.lines
        return
    for lead in ("mm", "in"):
        yield answer_text(worksheet, answer, lead=lead)
    yield str(flat(worksheet, answer))
    for picture in pictures_of(worksheet.name, case, answer):
        yield f"{picture.svg} {picture.caption}"


def check(texts: Iterator[str]) -> None:
    for text in texts:
        found = PROMISES.search(text)
        assert found is None, text[max(0, found.start() - 60) : found.end() + 60]


@given(data=CONTAINMENT)
def test_containment_promises_nothing(data: dict[str, Any]) -> None:
    check(said_of(load("containment"), data))


@settings(max_examples=150)
@given(data=CHOOSE)
def test_choose_bell_promises_nothing(data: dict[str, Any]) -> None:
    check(said_of(load("choose-bell"), data))


@pytest.mark.parametrize("name", ["containment", "choose-bell"])
def test_what_is_printed_and_documented_promises_nothing(name: str) -> None:
    worksheet = load(name)
    case = read(worksheet.case, from_toml(worksheet.example))
    pdf = worksheet_pdf(worksheet, case, worksheet.solve(case), lead="mm")
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    check(iter([" ".join(" ".join(pages).split()), worksheet.example, worksheet.question]))


@pytest.mark.parametrize(
    "promise",
    ["This bell is safe.", "It will contain a burst.", "The shell passes.", "It contains it.",
     "It holds the fragments.", "It withstands a burst."],
)  # fmt: skip
def test_the_check_sees_a_promise(promise: str) -> None:
    with pytest.raises(AssertionError):
        check(iter([promise]))
    check(iter(["Containment is the question; it promises nothing."]))
