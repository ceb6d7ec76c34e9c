"""Kitwright: the gearbox conversion kit, from hole pattern to fit-up."""

__version__ = "0.1.0"
