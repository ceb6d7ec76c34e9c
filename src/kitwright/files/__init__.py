"""Files in and out: text to numbers, numbers to text; what cannot be used is told by row."""
