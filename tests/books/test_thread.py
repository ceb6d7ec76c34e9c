"""The demo's whole thread on PostgreSQL: as on SQLite, and never over a shop that is there."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from kitwright.books.opening import open_books
from kitwright.books.verifying import verify
from kitwright.demo.story import run
from kitwright.errors import InputError
from kitwright.shop.today import look

TODAY = datetime.date(2026, 5, 4)


@pytest.mark.postgresql
def test_the_demo_on_postgresql(postgresql: object, demo_made: Path, tmp_path: Path) -> None:
    url = postgresql.fresh()
    run(tmp_path / "shop", today=TODAY, tell=lambda line: None, database=url)
    assert not (tmp_path / "shop" / "books.sqlite").exists()
    for name in ("batch-B-04.csv", "certificate-HC-0101.pdf", "fitters-sheet-11.pdf"):
        assert (tmp_path / "shop" / name).read_bytes() == (demo_made / name).read_bytes()
    with open_books(url) as books, open_books(demo_made / "books.sqlite") as others:
        assert verify(books) == []
        assert look(books, today=TODAY) == look(others, today=TODAY)
    with pytest.raises(InputError, match="holds a shop already"):
        run(tmp_path / "again", today=TODAY, tell=lambda line: None, database=url)
