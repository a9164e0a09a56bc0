"""Small settled jobs whose figures anyone can work out by hand, for the tests of the archive.

Everything is invented. A job has one layer of one product; what was quoted is written as accepting
would, with its seal, so that every figure is known beforehand.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from openpyxl.utils.datetime import to_excel

from pourbook.job.fill import Entry, fill
from pourbook.workbook.check import quoted
from pourbook.workbook.layout.laid_out import Layout

LAYER, PRODUCT, SURFACES = "Clear flood coat", "Clear flood", "top + edge"
USED_SHEET = {"log", "receipts", "left", "coated", "spent"}


@dataclass(frozen=True)
class Made:
    """A job with one layer: volumes in the job's unit, money in its currency.

    ``coated`` and ``wet`` are what was coated and read as a share of what was quoted; 0 for ``wet``
    is no reading. ``minutes`` from mixing to all spread over ``spread``; 0 is not noted.
    """

    job: str
    client: str = "Client one"
    price: float = 1000.0
    net: float = 0.8
    bought: float = 2.0
    cost: float = 100.0
    packs: int = 3
    pack_price: float = 52.0
    left: float = 2.0
    coated: float = 1.0
    wet: float = 0.0
    day: dt.date = dt.date(2027, 1, 25)
    lot: str = "L-77"
    document: str = "INV-1"
    currency: str = "USD"
    spread: float = 0.0
    minutes: float = 0.0
    extra: Mapping[Entry, object] | None = None


FIRST = Made("First", coated=0.9, wet=1.25, spread=60.0, minutes=20.0)
SECOND = Made(
    "Second",
    client="Client two",
    price=2000.0,
    net=1.6,
    cost=90.0,
    pack_price=45.0,
    left=0.8,
    day=dt.date(2027, 2, 10),
    document="INV-2",
    spread=60.0,
    minutes=30.0,
)
METRIC = Made(
    "Third",
    client="Client three",
    net=4.0,
    bought=5.0,
    packs=6,
    pack_price=20.0,
    left=1.0,
    day=dt.date(2027, 2, 11),
    lot="M-1",
    document="INV-3",
)


def make(
    source: Path,
    target: Path,
    plan: Layout,
    made: Made,
    kept: Mapping[Entry, str | float] | None = None,
) -> Path:
    """Write a settled job from the finished demo; ``kept`` is more of what was accepted."""
    cleared = {key: None for key in plan.entry_at if key[0] in USED_SHEET}
    quote = _kept(plan, made, kept or {})
    fill(source, target, {**cleared, **typed(made), **quote}, force=False)
    return target


def typed(made: Made) -> dict[Entry, object]:
    """Return what is typed into the job."""
    started = dt.datetime.combine(made.day - dt.timedelta(days=5), dt.time(9))
    cells: dict[Entry, object] = {
        ("start", "job", 0): made.job,
        ("start", "client", 0): made.client,
        ("money", "currency", 0): made.currency,
        ("settle_state", "unexplained", 0): 1.0,
        ("log", "layer", 0): LAYER,
        ("log", "started", 0): started,
        ("log", "lot_a", 0): made.lot,
        ("log", "mass_a", 0): 1500.0,
        ("log", "mass_b", 0): 1290.0,
        ("receipts", "supplier", 0): "Supplier",
        ("receipts", "document", 0): made.document,
        ("receipts", "date", 0): made.day - dt.timedelta(days=9),
        ("receipts", "kind", 0): "bought",
        ("receipts", "product", 0): PRODUCT,
        ("receipts", "holds", 0): "kit",
        ("receipts", "lot", 0): made.lot,
        ("receipts", "packs", 0): made.packs,
        ("receipts", "contents", 0): 1.0,
        ("receipts", "price", 0): made.pack_price,
        ("left", "product", 0): PRODUCT,
        ("left", "date", 0): made.day,
        ("left", "rest", 0): made.left,
        ("left", "goes", 0): "back on the shelf",
        ("coated", "done", 0): 100.0 * made.coated,
    }
    if made.wet:
        cells["log", "wet", 0] = 40.0 * made.wet
    if made.minutes:
        cells["log", "ended", 0] = started + dt.timedelta(minutes=made.minutes)
        cells["log", "spread_over", 0] = made.spread
    return {**cells, **(made.extra or {})}


LINES = {
    "Coatings": None,
    "Sundries": 0.0,
    "Hours of labour": 10.0,
    "Labour": 300.0,
    "Days on site": 1.0,
    "Travel": 50.0,
    "Overhead": 0.0,
}


def _kept(plan: Layout, made: Made, more: Mapping[Entry, str | float]) -> dict[Entry, object]:
    """Return what accepting writes, blank where it writes nothing here, sealed."""
    figures: dict[Entry, str | float] = {
        ("quoted", "revision", 0): 1.0,
        ("quoted", "option", 0): "A",
        ("quoted", "currency", 0): made.currency,
        ("quoted", "accepted_on", 0): float(to_excel(made.day - dt.timedelta(days=20))),
        ("quoted_layers", "layer", 0): LAYER,
        ("quoted_layers", "product", 0): PRODUCT,
        ("quoted_layers", "number", 0): 2.0,
        ("quoted_layers", "coated", 0): 100.0,
        ("quoted_layers", "wet", 0): 40.0,
        ("quoted_layers", "net", 0): made.net,
        ("quoted_layers", "mixed", 0): made.net / 0.9,
        ("quoted_products", "product", 0): PRODUCT,
        ("quoted_products", "net", 0): made.net,
        ("quoted_products", "mixed", 0): made.net / 0.9,
        ("quoted_products", "bought", 0): made.bought,
        ("quoted_products", "cost", 0): made.cost,
        ("quoted_lines", "item", 0): "Price before tax",
        ("quoted_lines", "amount", 0): made.price,
        **more,
    }
    for row, (label, amount) in enumerate(LINES.items(), start=1):
        figures["quoted_lines", "item", row] = label
        figures["quoted_lines", "amount", row] = made.cost if amount is None else amount
    for row, (title, digest) in enumerate(quoted.table_seals(plan, figures).items()):
        figures["quoted_sheets", "name", row] = title
        figures["quoted_sheets", "digest", row] = digest
    figures["quoted", "seal", 0] = quoted.seal(plan, figures)
    return {**dict.fromkeys(plan.kept_at), **figures}


def who(path: Path) -> tuple[Path, int]:
    """Return a file and the process that was asked for it; another process runs this."""
    return path, os.getpid()
