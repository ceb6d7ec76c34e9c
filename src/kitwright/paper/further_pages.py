"""Which worksheets print a page more than every worksheet does: by name, one small registry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from kitwright.paper.protractor_sheet import protractor_data
from kitwright.units import Lead

_BY_NAME: Final[dict[str, Callable[[Any, Any, Lead], dict[str, Any] | None]]] = {
    "dowels": protractor_data,
}


def further_pages(name: str, case: Any, answer: Any, *, lead: Lead) -> list[dict[str, Any]]:
    """The data of the pages after this worksheet's own; none where its answer asks for none.

    Each has a `template`: the name of a function in `further.typ`.
    """
    made = _BY_NAME.get(name)
    page = None if made is None else made(case, answer, lead)
    return [] if page is None else [page]
