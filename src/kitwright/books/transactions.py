"""One act of several lines: all of them, or none."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from sqlalchemy import Connection

P = ParamSpec("P")
R = TypeVar("R")


def all_or_nothing(
    act: Callable[Concatenate[Connection, P], R],
) -> Callable[Concatenate[Connection, P], R]:
    """Undo what `act` wrote when it fails, even where its caller goes on with the transaction."""

    @wraps(act)
    def whole(connection: Connection, /, *given: P.args, **named: P.kwargs) -> R:
        with connection.begin_nested():
            return act(connection, *given, **named)

    return whole
