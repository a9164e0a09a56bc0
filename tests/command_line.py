"""The command line as a shell calls it, in this process."""

from __future__ import annotations

from pourbook.cli import main


def run(*arguments: object) -> int:
    """Run ``pourbook`` with some arguments and return its exit code."""
    try:
        main([str(a) for a in arguments])
    except SystemExit as end:
        if not isinstance(end.code, int | None):
            raise
        return end.code or 0
    return 0
