"""Worksheets of the shell: its tones, what a bursting disc brings, which bell to choose."""
