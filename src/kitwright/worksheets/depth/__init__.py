"""Worksheets of the depth stage."""
