"""`python -m kitwright`."""

from kitwright.cli.main import main

main()
