"""What a printed sheet holds, read back from its PDF."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass

import pypdf
import pytest


@dataclass(frozen=True)
class Printed:
    """A PDF as a reader finds it. `text` has single spaces and no line ends."""

    pages: list[str]
    reader: pypdf.PdfReader

    @property
    def text(self) -> str:
        return " ".join(self.pages)

    @property
    def unbroken(self) -> str:
        """The text without any space: a word broken over two lines is whole again."""
        return self.text.replace(" ", "")

    def fonts(self) -> dict[str, bool]:
        """Name → whether its program is inside the file."""
        found = {}
        for item in self.reader.xref_objStm.keys() | set(self.reader.xref.get(0, {})):
            thing = self.reader.get_object(item)
            if isinstance(thing, dict) and thing.get("/Type") == "/FontDescriptor":
                inside = any(key in thing for key in ("/FontFile", "/FontFile2", "/FontFile3"))
                found[str(thing["/FontName"]).partition("+")[2]] = inside
        return found

    def code(self, page: int = 0) -> list[list[bool]]:
        """The QR's modules, without the quiet zone, from the strokes drawn on the page.

        It is drawn as level strokes of one unit, their middles half a unit below whole numbers.
        """
        contents = self.reader.pages[page].get_contents()
        assert contents is not None
        drawn = contents.get_data().decode("latin-1")
        runs: set[tuple[int, int]] = set()
        for path in re.findall(r"SCN [\d.]+ M((?: [\d.]+ \d+\.5 [ml])+)", drawn):
            strokes = re.findall(r"([\d.]+) (\d+)\.5 m ([\d.]+) \2\.5 l", path)
            if len(strokes) > 50:
                for start, row, end in strokes:
                    runs |= {(int(row), column) for column in range(int(start), int(end))}
        if not runs:
            return []
        side = max(row for row, _ in runs) - 3
        return [[(row + 4, column + 4) in runs for column in range(side)] for row in range(side)]


@pytest.fixture
def printed() -> Callable[[bytes], Printed]:
    """Read a PDF back."""

    def read(pdf: bytes) -> Printed:
        reader = pypdf.PdfReader(io.BytesIO(pdf))
        return Printed([" ".join(page.extract_text().split()) for page in reader.pages], reader)

    return read
