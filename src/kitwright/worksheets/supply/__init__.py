"""Worksheets of the supply stage."""
