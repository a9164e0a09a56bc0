"""A settled demo job for tests: what accepting keeps, what the crew logged and what was bought.

What is kept is what accepting wrote; the rest is invented here. No figure a test expects comes from
here.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path

from openpyxl.utils.datetime import to_excel

from pourbook.cells import Address, Value, word
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts import headless
from pourbook.job import books
from pourbook.workbook.check.check import Checked
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Entry = tuple[str, str, int]
_FIRST = dt.datetime(2027, 1, 12, 9, 30)


def _value(
    plan: Layout, values: Mapping[Address, Value], block: str, name: str, index: int
) -> Value:
    cell = plan.cell(block, name, index)
    return values[cell.sheet, cell.address]


def products(entries: Mapping[Entry, object]) -> list[str]:
    """Return the quoted products in order."""
    names = [
        (key[2], str(v)) for key, v in entries.items() if key[:2] == ("quoted_products", "product")
    ]
    return [name for _, name in sorted(names)]


def receipt(
    row: int, product: str, packs: int, contents: float, price: float, **more: object
) -> dict[Entry, object]:
    """Return one line of an invoice."""
    cells: dict[str, object] = {
        "date": dt.date(2027, 1, 5 + row % 5),
        "document": f"R{100 + row}",
        "line": 1,
        "kind": "bought",
        "product": product,
        "holds": "kit",
        "lot": f"L{row}",
        "packs": packs,
        "contents": contents,
        "price": price,
        **more,
    }
    return {("receipts", name, row): content for name, content in cells.items()}


def job_done(
    plan: Layout, values: Mapping[Address, Value], kept: Mapping[Entry, object]
) -> dict[Entry, object]:
    """Return all entries of the demo once it is settled, beyond those of the demo itself.

    ``values`` are those of the recomputed demo, ``kept`` is what accepting it wrote.

    Every planned batch was mixed as planned, one every other day, in mild dry air. Every product
    was bought in packs of one unit, a little dearer than quoted; 2 % more than planned was used,
    and the rest went back on the shelf, or of every second product was thrown away.
    """
    found = dict(kept)
    for index in range(plan.block("batches").rows):
        mixed = _value(plan, values, "batches", "mixed", index)
        if not isinstance(mixed, int | float):
            break
        for name in ("layer", "mass_a", "mass_b", "mass_c"):
            content = _value(plan, values, "batches", name, index)
            if content not in {"", None}:
                found["log", name, index] = content
        layer = found["log", "layer", index]
        row = next(i for i in range(12) if found["quoted_layers", "layer", i] == layer)
        started = _FIRST + dt.timedelta(days=2 * index)
        lot = f"L{products(found).index(str(found['quoted_layers', 'product', row]))}"
        wet = float(str(found["quoted_layers", "wet", row])) * 1.05
        found |= {
            ("log", name, index): content
            for name, content in {
                "batch": index + 1,
                "started": started,
                "ended": started + dt.timedelta(minutes=20),
                "lot_a": lot,
                "air": 70.0,
                "humidity": 0.45,
                "wet": wet,
            }.items()
        }
    for row, product in enumerate(products(found)):
        mixed = float(str(found["quoted_products", "mixed", row]))
        cost = float(str(found["quoted_products", "cost", row]))
        bought = math.ceil(mixed) + 1
        quoted = float(str(found["quoted_products", "bought", row]))
        price = round(cost / quoted * (1.04 + 0.01 * row), 2)
        found |= receipt(row, product, bought, 1.0, price, supplier='Coatings "North"')
        found["left", "date", row] = dt.date(2027, 1, 25)
        found["left", "product", row] = product
        found["left", "rest", row] = round(bought - 1.02 * mixed, 3)
        found["left", "goes", row] = "thrown away" if row % 2 else "back on the shelf"
    found["coated", "done", 0] = float(str(found["quoted_layers", "coated", 0])) * 0.95
    found["spent", "hours", 0] = 50.0
    found["spent", "other", 0] = 75.5
    return found


_TIED = {"receipts": "landed", "invoices": "ties", "extras": "extra_ties"}
"""The working table of Invoices that holds supplier and number of each row."""


class Bench:
    """A settled job whose functions are values, to try many settlements on in little time."""

    SHEETS = ("Quoted", "Used", "Invoices", "Settle", "Chart data")

    def __init__(self, done: Path, plan: Layout, folder: Path) -> None:
        self.plan = plan
        self.copy = folder / "bench.xlsx"
        books.without_functions(done, self.copy)
        cells = [c for c in plan.cells if c.sheet in self.SHEETS and c.formula and not c.array]
        self.wanted = [(c.sheet, c.address) for c in cells if not c.fill]
        self.target = folder / "tried.xlsx"

    def run(self, entries: Mapping[Entry, object]) -> Checked:
        """Write entries, or results of functions, and work the native sheets out."""
        placed: dict[str, dict[str, Value]] = defaultdict(dict)
        for (block, name, index), content in entries.items():
            cell = self.plan.cell(block, name, index)
            day = isinstance(content, dt.date)
            value = float(to_excel(content)) if day else content
            assert value is None or isinstance(value, str | int | float)
            placed[cell.sheet][cell.address] = value
            column = f"word_{block}_{name}"
            if column in self.plan.places["words"].columns:
                words = self.plan.cell("words", column, index)
                placed[words.sheet][words.address] = word(value)
        for (block, _, index), _ in entries.items():
            if block in _TIED:
                self._tie(placed, block, index, entries)
        parts = rewrite.sheet_parts(self.copy)

        def edit(part: str, content: bytes) -> bytes:
            typed = placed.get(parts.get(part, ""))
            return rewrite.with_values(content, typed) if typed else content

        copied(self.copy, self.target, edit)
        done = headless.engine("fast").recompute(self.target, self.wanted)
        assert not done.reasons
        return Checked(read_book(self.target), self.plan, done.values, ())

    def _tie(
        self,
        placed: dict[str, dict[str, Value]],
        block: str,
        index: int,
        entries: Mapping[Entry, object],
    ) -> None:
        """Set the words of supplier and number of a row, as the functions would."""
        typed = [entries.get((block, name, index)) for name in ("supplier", "document")]
        if any(value is not None for value in typed):
            at = "|".join("" if value is None else str(value) for value in typed)
            words = self.plan.cell("words", f"word_{_TIED[block]}_at", index)
            placed[words.sheet][words.address] = word(at)
