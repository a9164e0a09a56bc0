"""Lets ``python -m pourbook`` do what the command ``pourbook`` does."""

from pourbook.cli import main

main()
