"""Keys that a fitter's page sends once only: made by the server, good for one fit-up's links.

A key is a random part and its code under the link's token, so that none need be kept: whoever has
the link could make one, nobody else can. A key of any link to the same fit-up is good: what a phone
could not send before its link was renewed still comes in, once.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from base64 import urlsafe_b64encode
from collections.abc import Iterable
from typing import Final

from kitwright.errors import InputError

STOCK: Final = 40
"""So many unused keys a page has after it was answered."""

_RANDOM_BYTES: Final = 9
_CODE_BYTES: Final = 12


def stock(token: str, count: int = STOCK) -> list[str]:
    """New keys for the link of this token."""
    made = (secrets.token_urlsafe(_RANDOM_BYTES) for _ in range(count))
    return [f"{random}.{_code(token, random)}" for random in made]


def check(key: str, tokens: Iterable[str]) -> None:
    """Refuse a key that was made for none of these links.

    Raises
    ------
    InputError
        It is of another fit-up's link, or was never made.
    """
    random, _, code = key.partition(".")
    if not key.isascii() or not any(
        hmac.compare_digest(code, _code(token, random)) for token in tokens
    ):
        raise InputError("send_key", "it is not of this link", "load the page again")


def _code(token: str, random: str) -> str:
    digest = hmac.digest(token.encode(), random.encode(), hashlib.sha256)
    return urlsafe_b64encode(digest[:_CODE_BYTES]).decode()
