"""The first version of the books, by subject. It is history: later versions never change it."""
