"""In one recalculation every table is read once, every layer worked out once, every plan made once.

Counted, not timed: the demo is recomputed by the fast engine, and each row that is read is noted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from pourbook.cells import Rows
from pourbook.functions.batch import plans
from pourbook.hosts import headless
from pourbook.job.make import Scenario
from pourbook.once import KeptRows, once
from pourbook.tables import layers, limits, products, works
from pourbook.tables.buy import packs
from pourbook.workbook.layout.laid_out import Layout

Bare = Callable[[Layout, Mapping[tuple[str, str, int], object]], Path]
READERS: list[tuple[Any, str, Callable[..., object]]] = [
    (products, "read_product", lambda row, _: row["product"]),
    (works, "read_working", lambda row, _: row["name"]),
    (limits, "_limits", lambda row, *_: row["product"]),
    (layers, "work_out", lambda row, *_: (row["option"], row["layer"])),
    (plans, "plan_layer", lambda layer, *_: (layer.option, layer.name)),
    (packs, "read_pack", lambda _, index, *__: index),
]

CASES = {"plan_layer": 7}
"""Of What if: all six cases are planned anew, and none is worked out again."""


def test_demo_is_read_and_planned_once(
    monkeypatch: pytest.MonkeyPatch, plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    counted: Counter[tuple[str, object]] = Counter()

    def watched(name: str, read: Callable[..., object], about: Callable[..., object]) -> Any:
        def counting(*given: object) -> object:
            counted[name, about(*given)] += 1
            return read(*given)

        return counting

    for module, name, about in READERS:
        monkeypatch.setattr(module, name, watched(name, getattr(module, name), about))
    # A name of this test's own, so that no other test has read the same tables before.
    entries = {**scenario_us.entries, ("rooms", "room", 0): "Room of this test"}
    entries |= {("products", "coldest", row): 50.0 for row in range(2)}
    entries |= {("working", "cure_temp", row): 72.5 for row in range(2)}
    entries |= {("packs", "price", 0): 123.45}
    book = write_bare(plan_us, entries)
    wanted = [(c.sheet, c.address) for c in plan_us.cells if c.formula or c.fill]
    assert not headless.engine("fast").recompute(book, wanted).reasons
    assert {name for name, _ in counted} == {name for _, name, _ in READERS}
    again = {key: n for key, n in counted.items() if n > CASES.get(key[0], 1)}
    assert again == {}
    rows = {key[2] for key in scenario_us.entries if key[0] == "finish_layers"}
    assert sum(name == "work_out" for name, _ in counted) == len(rows)


def test_rows_that_are_kept_are_known_by_what_they_hold() -> None:
    """As often as they are handed over, and never for others that look alike."""
    seen = []

    @once
    def count(rows: Rows, more: Rows = ()) -> int:
        seen.append(rows)
        return len(rows)

    one, same = (KeptRows([[1.0, "a"], [None, ""]]) for _ in range(2))
    assert [count(rows) for rows in (one, one, same)] == [2, 2, 2]
    assert len(seen) == 1
    others: list[Rows] = [
        [[True, "a"], [None, ""]],
        [[1, "a"], [None, ""]],
        [[1.0, "a"], ["", None]],
    ]
    for other in others:
        assert count(KeptRows(other)) == 2
    assert len(seen) == 4
    count(one, same)
    count(same, one)
    assert len(seen) == 5
    assert count(KeptRows([])) == count([]) == 0


def test_a_content_of_the_same_hash_is_another() -> None:
    """-1 and -2 have one hash in Python."""
    seen = []

    @once
    def first(rows: Rows) -> object:
        seen.append(rows)
        return rows[0][0]

    one, two = (KeptRows([[number]]) for number in (-1, -2))
    assert hash(one.content) == hash(two.content)
    assert [first(one), first(two), first(one)] == [-1, -2, -1]
    assert len(seen) == 2
