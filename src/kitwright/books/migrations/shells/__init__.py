"""The tables of the fifth version, by subject."""
