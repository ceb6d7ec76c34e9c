"""Centring: where the bore sits, what puts it right, how often a fitter must correct."""
