"""Find a shop's books: a folder with one file in it, or the database that the setting names."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from kitwright.books.opening import Books, open_books
from kitwright.errors import InputError

BOOKS_FILE: Final = "books.sqlite"
SETTING: Final = "KITWRIGHT_DATABASE"


def open_shop(folder: str | Path, *, database: str = "", make: bool = False) -> Books:
    """The books of the shop in `folder`, or in `database` where that setting is given.

    Raises
    ------
    InputError
        The folder holds no shop (and `make` is not asked for), or cannot be used.
    """
    if database:
        return open_books(database)
    path = Path(folder) / BOOKS_FILE
    if not make and not path.exists():
        raise InputError(
            "shop", f'"{folder}" holds no shop', "run `kitwright demo`, or name the shop's folder"
        )
    return open_books(path)
