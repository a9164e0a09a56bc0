"""A metric job of one layer, as the worksheet hands it to the block functions."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pourbook.cells import Rows, Value
from pourbook.functions.batch import batches
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.tables import doing, layers, products, rooms, works

Table = list[list[Value]]


def _row(columns: tuple[str, ...], **cells: Value) -> list[Value]:
    assert set(cells) <= set(columns), set(cells) - set(columns)
    return [cells.get(c) for c in columns]


def _rooms(*pieces: tuple[str, float, str]) -> Table:
    """Rectangles half a metre wide: name, length in m, may be split."""
    entries = [
        _row(
            rooms.COLUMNS,
            room="Bar",
            piece=name,
            shape="rectangle",
            a=f"{long} m",
            b="0.5 m",
            edge_run=f"{long} m",
            edge_height="40 mm",
            may_split=split,
        )
        for name, long, split in pieces
    ]
    found = evaluate("PB_ROOMS", [entries, "metric"])
    assert isinstance(found, list)
    return [entry + result for entry, result in zip(entries, found, strict=True)]


def _job(
    layer: dict[str, Value],
    how_done: dict[str, Value],
    product: dict[str, Value] | None = None,
    work: dict[str, Value] | None = None,
    pieces: tuple[tuple[str, float, str], ...] = (("Top", 4.0, "yes"), ("Shelf", 1.0, "no")),
    option: str = "A",
) -> list[Value | Rows]:
    """A metric job of one layer, as the worksheet hands it over."""
    usual: dict[str, Value] = {
        "option": "A",
        "layer": "Flood",
        "product": "Clear",
        "method": "pour",
        "surfaces": "top + edge",
        "spread": "1 mm",
    }
    row = usual | layer
    keys = {"name": row["option"], "layer_name": row["layer"]}
    how: dict[str, Value] = keys | {
        "bucket": "1.2 L",
        "hands": 1,
        "pace": 10,
        "batch_loss": "50 mL",
        "share": 1.0,
        "carrying": 0.0,
    }
    what: dict[str, Value] = {
        "product": "Clear",
        "parts": 2,
        "basis": "volume",
        "ratio": "2:1",
        "first": "B",
        "density_a": 1.1,
        "density_b": 1.0,
        "solids": 1,
        "minutes": 2,
    }
    stated: dict[str, Value] = {"name": "Clear", "pot_life": 40, "pot_temp": 20}
    return [
        [_row(layers.COLUMNS, **row)],
        [_row(doing.DOING, **how | how_done)],
        [_row(products.COLUMNS, **what | (product or {}))],
        [_row(works.COLUMNS, **stated | (work or {}))],
        _rooms(*pieces),
        20.0,
        2.0,
        option,
        "metric",
    ]


def _table(call: list[Value | Rows]) -> list[dict[str, Value]]:
    """The rows that are not blank, by column."""
    found = evaluate("PB_BATCHES", call)
    assert isinstance(found, list)
    assert len(found) == batches.ROWS
    ids = [c.id for c in catalogue()["PB_BATCHES"].columns]
    rows = [dict(zip(ids, row, strict=True)) for row in found]
    return [row for row in rows if row["status"] != ""]


@pytest.fixture(scope="session")
def job() -> Callable[..., list[Value | Rows]]:
    """Make a metric job of one layer: cells of the layer, how, product, working; pieces, option."""
    return _job


@pytest.fixture(scope="session")
def table() -> Callable[..., list[dict[str, Value]]]:
    """Call PB_BATCHES and return the rows that are not blank, by column."""
    return _table
