"""Charts without a title a program makes up.

Contract: :func:`untitled` changes how a chart is written, and nothing of what it shows.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from openpyxl.chart._chart import ChartBase


def untitled(chart: ChartBase) -> None:
    """Keep a chart without a title: Excel else takes the name of a lone series."""
    chart._write = partial(_marked, chart._write)


def _marked(write: Callable[[], Any]) -> Any:
    tree = write()
    held = next(child for child in tree if child.tag.endswith("chart"))
    mark = held.makeelement(held.tag.removesuffix("chart") + "autoTitleDeleted", {"val": "1"})
    held.insert(0, mark)
    return tree
