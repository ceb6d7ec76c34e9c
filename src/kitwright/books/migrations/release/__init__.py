"""The tables of the third version, by subject."""
