"""XML from anyone: no entities, no network, no endless trees."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import FileError
from kitwright.files import markup
from kitwright.files.markup import looks_like_xml, read_xml

LAUGHS = "\n".join(
    ["<!DOCTYPE d [", '<!ENTITY a0 "ha">']
    + [f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 30)]
    + ["]>", "<d>&a29;</d>"]
)


def test_a_plain_file_is_read():
    root = read_xml("<a><!-- c --><?p i?><b x='1'>\u00fc</b></a>".encode())
    assert [child.tag for child in root] == ["b"]
    assert root[0].text == "\u00fc"


@pytest.mark.parametrize(
    "text",
    [
        LAUGHS,
        LAUGHS.replace("<d>&a29;</d>", '<d x="&a29;"/>'),
        LAUGHS.replace("<d>&a29;</d>", "<d/>"),
        '<!DOCTYPE d SYSTEM "file:///etc/passwd"><d/>',
        '<!DOCTYPE d [<!ENTITY e SYSTEM "file:///etc/passwd">]><d>&e;</d>',
        '<!DOCTYPE d [<!ENTITY % p SYSTEM "http://127.0.0.1:9/x.dtd"> %p;]><d/>',
        "<!DOCTYPE d><d/>",
        "<!DOCTYPE d [" + "<!-- x -->" * 20_000 + "]><d/>",
    ],
    ids=["text", "attribute", "unused", "external", "file", "network", "bare", "long"],
)
def test_a_document_type_is_refused_at_once(text):
    for encoding in ("utf-8", "utf-16"):
        begun = time.perf_counter()
        with pytest.raises(FileError, match=r"document type|not well-formed") as refused:
            read_xml(text.encode(encoding), name="x.qif")
        assert time.perf_counter() - begun < 1
        assert "root:" not in str(refused.value)


def test_nothing_of_a_file_on_this_machine_comes_through(tmp_path: Path):
    secret = tmp_path / "secret.txt"
    secret.write_text("walnut")
    text = f'<!DOCTYPE d [<!ENTITY e SYSTEM "{secret.as_uri()}">]><d>&e;</d>'
    with pytest.raises(FileError) as refused:
        read_xml(text.encode())
    assert "walnut" not in str(refused.value)


@pytest.mark.parametrize(
    "text",
    ["<a><b></a>", "<a>", "<a", "<a>&lt", "<a>&nbsp;</a>", "<", "<a/><b/>", "<a x=1/>", "<?xml?>"],
)
def test_what_is_cut_off_or_broken_is_refused_with_its_line(text):
    with pytest.raises(FileError, match=r"not whole or not well-formed XML at line \d"):
        read_xml(text.encode())


def test_trees_without_end_are_refused():
    with pytest.raises(FileError, match="not well-formed"):
        read_xml(b"<a>" * 5000 + b"</a>" * 5000)


def test_a_file_too_large_is_refused_before_it_is_read(monkeypatch):
    monkeypatch.setattr(markup, "LARGEST_XML", 2**20)
    with pytest.raises(FileError, match="larger than 1 MB"):
        read_xml(b"<a>" + b" " * 2**20 + b"</a>")


@pytest.mark.parametrize(
    ("data", "is_xml"),
    [
        (b"<?xml version='1.0'?><a/>", True),
        (b"\xef\xbb\xbf\n <a/>", True),
        ("<a/>".encode("utf-16"), True),
        (b"serial,depth [mm]\n<1,2", False),
        (b"PK\x03\x04", False),
        (b"", False),
    ],
)
def test_xml_is_told_by_how_it_begins(data, is_xml):
    assert looks_like_xml(data) is is_xml


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    try:
        read_xml(b"<a>" + data)
    except FileError:
        return
