"""The note a books copy carries on its first sheet: which job it was made from, and when.

Contract: the words are those :mod:`pourbook.job.books` writes; nothing is read from a file here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from pourbook.cells import Value

_NOTE = re.compile(r"Books copy of (.+?), made \d{4}-")


def is_copy_note(value: Value) -> bool:
    """Return whether a cell says what a books copy is.

    Example:
        >>> is_copy_note("Books copy of job.xlsx, made 2027-02-01 09:00 by Pourbook")
        True
    """
    return isinstance(value, str) and bool(_NOTE.match(value))


def job_named(values: Iterable[Value]) -> str:
    """Return the file name of the job that a cell of a copy's first sheet names."""
    said = (_NOTE.match(value) for value in values if isinstance(value, str))
    return next((found[1] for found in said if found), "the job")
