"""The one place that calls the typesetter: a template's name and plain data in, a PDF out.

Whatever a person typed reaches the template as a JSON string and is set as text: it is never read
as markup. Pictures travel the same way, as SVG. Nothing here tells the time, looks for fonts on
the machine or asks a network: the same data gives the same bytes on one machine.
"""

from __future__ import annotations

import datetime
import io
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal

import segno
import typst

from kitwright.errors import FaultError, InputError

Paper = Literal["a4", "us-letter"]
Standard = Literal["ua-1"]
Template = Literal[
    "worksheet",
    "certificate",
    "fit-up",
    "fit-up-blank",
    "kit-slip",
    "labels",
    "buyers-sheet",
    "batch",
]

_PACKAGE: Final = Path(str(files("kitwright")))
_TEMPLATES: Final = _PACKAGE / "paper" / "templates"
_FONTS: Final = _PACKAGE / "fonts"

# Controls would print as boxes; the others turn a line's direction or hide in it, so that a
# serial could read otherwise than it is.
_BREAKS: Final = re.compile(r"[\s\x00-\x1f\x7f-\x9f]+")
_UNSEEN: Final = re.compile("[\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
_HALVES: Final = re.compile("[\ud800-\udfff]")


class Svg(str):
    """A drawing; the template takes it as it is."""

    __slots__ = ()


QR_MOST: Final = 300
"""Characters that a printed code may carry and still be read by a phone."""


def typeset(
    template: Template,
    data: Mapping[str, Any],
    *,
    title: str,
    date: datetime.date | None,
    paper: Paper = "a4",
) -> bytes:
    """The template filled with `data`, as a tagged PDF with its fonts inside.

    Parameters
    ----------
    template : name of a file in `templates`
    data : what `json.dumps` can write; every text passes `one_line`, every `Svg` stays as it is
    title : the document's title, as a reader's window shows it
    date : written into the document; None leaves the document without one
    paper : "a4" or "us-letter"

    Raises
    ------
    FaultError
        The template did not take the data.
    """
    return compiled(template, data, title=title, date=date, paper=paper)[0]


def compiled(
    template: Template,
    data: Mapping[str, Any],
    *,
    title: str,
    date: datetime.date | None,
    paper: Paper = "a4",
    standards: Sequence[Standard] = (),
) -> tuple[bytes, list[str]]:
    """The PDF and the typesetter's warnings; `standards` asks it to prove, say, "ua-1"."""
    whole = {
        **_clean(data),
        "title": one_line(title),
        "paper": paper,
        "date_parts": [date.year, date.month, date.day] if date else None,
    }
    try:
        pdf, warnings = typst.compile_with_warnings(
            _TEMPLATES / f"{template}.typ",
            root=_TEMPLATES,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(whole, ensure_ascii=False, allow_nan=False)},
            pdf_standards=list(standards),
        )
    except typst.TypstError as error:
        raise FaultError(f"the sheet could not be set: {error.message}") from error
    assert isinstance(pdf, bytes)
    return pdf, [warning.message for warning in warnings]


def one_line(text: str) -> str:
    r"""The text as one line of what can be seen.

    >>> one_line("bell\n 12\x07"), one_line("KW-\u202e0042")
    ('bell 12', 'KW-0042')
    """
    seen = _HALVES.sub("\ufffd", _UNSEEN.sub("", text))
    return _BREAKS.sub(" ", seen).strip()


def qr_svg(text: str, *, where: str = "link") -> Svg:
    """A QR code with its quiet zone of four modules, one SVG unit a module.

    Never the small form for short texts, which many phones do not read. A quarter of it may be
    lost to a thumb (error level Q).

    Raises
    ------
    InputError
        Empty, or longer than a printed code carries.
    """
    if not text or len(text.encode("utf-8", "replace")) > QR_MOST:
        raise InputError(where, f"{len(text)} characters", f"a code carries 1 to {QR_MOST}")
    code = segno.make_qr(text, error="q", boost_error=False)
    drawn = io.BytesIO()
    code.save(drawn, kind="svg", border=4, omitsize=True, xmldecl=False, svgclass=None)
    return Svg(drawn.getvalue().decode("utf-8"))


def qr_side(code: Svg) -> int:
    """How many modules the side of a code of `qr_svg` has, with its quiet zone.

    >>> qr_side(qr_svg("KW-0042"))
    29
    """
    found = re.search(r'viewBox="0 0 (\d+) ', code)
    assert found is not None
    return int(found[1])


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(_FONTS)]
    )


def _clean(value: Any) -> Any:
    if isinstance(value, Svg):
        return value
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, Mapping):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [_clean(item) for item in value]
    return value
