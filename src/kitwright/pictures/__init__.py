"""Answers as drawings: plain SVG text, the same on page, paper and phone."""
