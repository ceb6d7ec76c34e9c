"""What was handed in at a page, held while the page is worked with.

A browser does not fill in a chosen file again when a form comes back. The bytes stay here instead,
under their own digest, and the form carries a short reference to them. Nothing is written down:
the oldest go when there is too much, and all of it when the server stops.
"""

from __future__ import annotations

import hashlib
import re
import threading
from collections import OrderedDict
from typing import Final

from kitwright.errors import InputError

MOST_BYTES: Final = 200_000_000
_REFERENCE: Final = re.compile(r"held:([0-9a-f]{24})/[^/\"]*")
_UNSAFE: Final = re.compile(r"[^\w.() -]+")
_LONGEST: Final = 80


class Held:
    """Bytes under their digests, the latest used kept longest; many threads may ask at once."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self.most = most_bytes
        self._kept: OrderedDict[str, bytes] = OrderedDict()
        self._size = 0
        self._lock = threading.Lock()

    def keep(self, data: bytes) -> str:
        """Hold these bytes; the digest under which they are found."""
        digest = hashlib.sha256(data).hexdigest()[:24]
        with self._lock:
            if digest in self._kept:
                self._kept.move_to_end(digest)
                return digest
            self._kept[digest] = data
            self._size += len(data)
            while self._size > self.most and len(self._kept) > 1:
                _, gone = self._kept.popitem(last=False)
                self._size -= len(gone)
        return digest

    def found(self, digest: str) -> bytes | None:
        """The bytes under a digest; None where there are none any more."""
        with self._lock:
            if digest in self._kept:
                self._kept.move_to_end(digest)
            return self._kept.get(digest)

    def hand_in(self, name: str, data: bytes) -> str:
        """Hold an upload; the reference to it that a case may say."""
        last = re.split(r"[/\\]", name)[-1]
        called = _UNSAFE.sub("_", last)[-_LONGEST:] or "file"
        return f"held:{self.keep(data)}/{called}"

    def opened(self, reference: str) -> bytes:
        """The bytes of a reference in a case.

        Raises
        ------
        InputError
            It is none of ours, or no longer held.
        """
        match = _REFERENCE.fullmatch(reference)
        if match is None:
            raise InputError("", f'"{reference[:60]}" was not handed in here', "choose the file")
        data = self.found(match[1])
        if data is None:
            raise InputError("", "it is no longer held here", "choose the file again")
        return data


def by_name(text: str) -> str:
    """A case's text with plain file names in place of references, for who keeps it.

    >>> by_name('file = "held:0123456789abcdef01234567/tap.wav"')
    'file = "tap.wav"'
    """
    return re.sub(r'"held:[0-9a-f]{24}/([^/"]*)"', r'"\1"', text)
