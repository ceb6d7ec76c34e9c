"""Worksheets of the centring stage."""
