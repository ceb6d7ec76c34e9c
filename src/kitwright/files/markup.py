"""XML that anyone may have sent, read without entities, without the network, and within bounds."""

from __future__ import annotations

import re
from typing import Final

from lxml import etree

from kitwright.errors import FileError

LARGEST_XML: Final = 32 * 2**20
_FIRST: Final = 256
_CHUNK: Final = 64 * 2**10
_AGAIN: Final = "have it written again, as plain XML"


def looks_like_xml(data: bytes) -> bool:
    """Whether a file begins as XML does, in UTF-8 or in UTF-16.

    >>> looks_like_xml(b"\\xef\\xbb\\xbf  <?xml version='1.0'?>"), looks_like_xml(b"serial,depth")
    (True, False)
    """
    head = data[:200].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    return head.startswith(b"<")


def read_xml(data: bytes, *, name: str = "file") -> etree._Element:
    """The root of an XML file.

    A document type is refused before anything else is looked at: entities are declared in it, and
    a plain file of results has none.

    Raises
    ------
    FileError
        Too large, cut off or not well formed, nested too deeply, or with a document type.
    """
    if len(data) > LARGEST_XML:
        raise FileError(name, f"larger than {LARGEST_XML // 2**20} MB", "hand it in in parts")
    parser = etree.XMLPullParser(
        events=("start",),
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    begun, start = False, 0
    try:
        while start < len(data):
            step = _CHUNK if begun else _FIRST  # little by little, until the root has begun
            parser.feed(data[start : start + step])
            start += step
            for _, element in parser.read_events():
                if not begun:
                    _refuse_doctype(element, name)
                    begun = True
        root = parser.close()
    except etree.XMLSyntaxError as error:
        given = f"not whole or not well-formed XML at line {error.lineno}: {_words(error)}"
        raise FileError(name, given, _AGAIN) from None
    assert isinstance(root, etree._Element)
    _refuse_doctype(root, name)
    return root


def _refuse_doctype(element: etree._Element, name: str) -> None:
    if element.getroottree().docinfo.internalDTD is not None:
        raise FileError(name, "it has a document type (DOCTYPE)", f"{_AGAIN}, without one")


def _words(error: etree.XMLSyntaxError) -> str:
    told = re.sub(r", line \d+, column \d+.*", "", " ".join((error.msg or "cut off").split()))
    return told[:120].rstrip(". ")
