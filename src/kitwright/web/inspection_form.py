"""The form that hands in an inspection, on the shop's page of a batch and on the machinist's."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from kitwright.errors import InputError, Problem
from kitwright.files import incoming
from kitwright.web.shop_state import Sent

if TYPE_CHECKING:
    from kitwright.files.qif import QifDocument
    from kitwright.files.tables import Table

FIELDS: Final = frozenset({"file", "instrument", "who"})
"""What the form asks for, and has room for a message beside."""


def handed_in(sent: Sent) -> Table | QifDocument:
    """What was handed in, once nothing is missing from the form.

    Raises
    ------
    InputError
        Fields left empty: a line each.
    FileError
        The file is no table and no QIF.
    """
    missing = [
        Problem(name, "missing", expected)
        for name, given, expected in (
            ("file", sent.file is not None, "choose the inspection's file"),
            ("instrument", sent.text("instrument"), "say what they were measured with"),
            ("who", sent.text("who"), "say who hands it in"),
        )
        if not given
    ]
    if missing:
        raise InputError.of(missing)
    return incoming.handed_in(sent.file_name, sent.file or b"")
