"""What is kept and how it may move: tables, the ledger of movements and decisions, migrations.

Faces never come here; the shop does. `opening.open_books` opens a shop's books, and every other
function takes a connection from `Books.reading()` or `Books.writing()` as its first argument. No
function reads a clock: an `entries.Entry` says who, when it happened and when it is written down.
"""
