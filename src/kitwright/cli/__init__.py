"""The command line: read, call, show."""
