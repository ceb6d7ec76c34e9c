"""Worksheets of the quality stage."""
