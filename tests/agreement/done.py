"""What random jobs hold once they are sold and done: tests, a kept quote, log, receipts, counts.

Contract: :func:`add` gives further entries of one job, the same for the same job and dice. What
accepting keeps on Quoted is written from the pipeline's values of the job, not by the program's own
accepting. In part of the jobs entries change after that, or rows of Used are wrong.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping
from dataclasses import dataclass

from tests.agreement.native import OPTIONS
from tests.agreement.pipeline import Pipeline

from pourbook.workbook.layout.laid_out import Layout

Entry = tuple[str, str, int]
Entries = dict[Entry, object]
PROOFS: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("pencil hardness", ("H", "2H", "F"), ("at least H", "2H")),
    ("cross-cut", ("4B", "5B", "3B"), ("4B",)),
    ("cross-cut ISO 2409", ("0", "1", "2"), ("at most 1",)),
    ("solvent rub", ("60", "120"), ("100", "at least 50")),
    ("Shore D", ("78", "82.5", "70"), ("75", "70 to 85")),
    ("gloss at 60°", ("88", "92", "45"), ("85", "35 to 90", "at most 60")),
    ("dry film", ("2.1 mm; 2.2 mm; 1.9 mm", "10 mil; 12 mil; 4 mil"), ("1.5 mm", "9 mil")),
    ("impact", ("40 in-lb", "4 J"), ("30 in-lb",)),
)


@dataclass
class _Job:
    """A job as far as it is known, and the dice."""

    dice: random.Random
    plan: Layout
    told: Pipeline
    accepted: bool = False

    def number(self, block: str, name: str, index: int = 0) -> float:
        value = self.told.get(block, name, index)
        return float(value) if isinstance(value, int | float) else 0.0


def add(dice: random.Random, plan: Layout, entries: Mapping[Entry, object]) -> Entries:
    """Return what a job holds beyond the entries it was quoted by.

    Args:
        dice: The job's own.
        plan: Its layout.
        entries: What is typed so far.
    """
    job = _Job(dice, plan, Pipeline(plan, entries))
    found: Entries = {}
    if dice.random() < 0.5:
        for row in range(dice.randint(1, 5)):
            found |= _row("tests", row, _proof(job))
    offered = str(job.told.get("rates", "option"))
    priced = [o for i, o in enumerate(OPTIONS) if job.number("price", "net", i)]
    if priced and dice.random() < 0.9:
        option = offered if offered in priced else priced[0]
        if option != offered:  # another option than the offered one was taken
            found["rates", "option", 0] = option
            job.told = Pipeline(plan, {**entries, **found})
        job.accepted = True
        found |= _kept(job, option)
    if dice.random() < (0.93 if job.accepted else 0.3):
        found |= _used(job, found)
        if dice.random() < 0.35:
            for _ in range(dice.randint(1, 2)):
                _spoil(dice, found)
    if job.accepted and dice.random() < 0.35:
        found |= _changed(job, entries)
    return found


def _row(block: str, index: int, cells: Mapping[str, object]) -> Entries:
    return {(block, name, index): v for name, v in cells.items() if v is not None}


def _products(job: _Job) -> list[str]:
    return [str(v) for v in job.told.column("products", "product") if v]


def _warm(job: _Job, celsius: float) -> float:
    return round(celsius * 1.8 + 32 if job.plan.system.temperature == "°F" else celsius, 1)


def _proof(job: _Job) -> dict[str, object]:
    dice = job.dice
    test, readings, limits = dice.choice(PROOFS)
    coated = dt.datetime(2027, 1, 14, 11) + dt.timedelta(hours=dice.randint(0, 48))
    return {
        "panel": dice.choice(["sample board", "finished top"]),
        "place": dice.choice([None, "board 1"]),
        "product": dice.choice([*_products(job) * 4, "Unknown"]),
        "test": test,
        "coated": coated,
        "tested": coated + dt.timedelta(days=dice.choice([2, 9, 14, 30, -1])),
        "kept_at": dice.choice([None, _warm(job, 18), _warm(job, 23)]),
        "reading": dice.choice([*readings * 3, "wet"]),
        "limit": dice.choice(limits),
    }


def _kept(job: _Job, option: str) -> Entries:
    """Return what accepting an option keeps, without digests."""
    dice, told, which = job.dice, job.told, OPTIONS.index(option)
    found = _row(
        "quoted",
        0,
        {
            "revision": dice.choice([1, 1, 2]),
            "option": option,
            "accepted_on": dt.date(2027, 1, 4),
            "quote_date": dt.date(2026, 12, 1),
            "accepted_by": "The owners",
            "currency": told.get("money", "currency"),
            "area": job.number("measured", "total"),
            "tax_rate": job.number("money", "tax"),
        },
    )
    lines = [f for f in job.plan.block("price").columns if f.format != "text"]
    for row, line in enumerate(lines):
        item = job.plan.text(line.header)
        amount = float(f"{job.number('price', line.id, which):.15g}")
        found |= _row("quoted_lines", row, {"item": item, "amount": amount})
    totals: dict[str, dict[str, float]] = {}
    row = 0
    for index, of in enumerate(told.column("amounts", "option")):
        if of != option:
            continue
        film = job.number("amounts", "net", index) + job.number("amounts", "take_up", index)
        layer = {n: told.get("amounts", n, index) for n in ("layer", "product")}
        figures = {n: job.number("amounts", n, index) for n in ("number", "coated", "wet", "mixed")}
        found |= _row("quoted_layers", row, {**layer, **figures, "net": film})
        total = totals.setdefault(str(layer["product"]), {"net": 0.0, "mixed": 0.0})
        total["net"] += film
        total["mixed"] += figures["mixed"]
        row += 1
    names = [str(v).casefold() for v in told.column("buying", "buy_product")]
    for row, (product, total) in enumerate(totals.items()):
        cost = job.number("buying", f"cost_{option.lower()}", names.index(product.casefold()))
        packs = round(total["mixed"] * dice.uniform(1.02, 1.5), 3)
        cells = {"product": product, **total, "bought": packs, "cost": cost}
        found |= _row("quoted_products", row, cells)
    row = 0
    for index, step in enumerate(told.column("labour", "step")):
        if step:
            hours = job.number("labour", f"hours_{option.lower()}", index)
            found |= _row("quoted_steps", row, {"step": step, "hours": hours})
            row += 1
    return found | _row("quoted_steps", row, {"step": "Not quoted", "hours": 0.0})


def _amount_of(job: _Job) -> dict[str, tuple[float, float]]:
    """Return what is called for of each product of the option to offer, and a price of one unit."""
    option = job.told.get("rates", "option")
    found: dict[str, tuple[float, float]] = {}
    for index, of in enumerate(job.told.column("amounts", "option")):
        product = job.told.get("amounts", "product", index)
        if of == option and isinstance(product, str) and product in _products(job):
            before = found.get(product, (0.0, 0.0))[0]
            mixed = before + job.number("amounts", "mixed", index)
            found[product] = (mixed, job.dice.uniform(12, 90))
    return found


def _used(job: _Job, kept: Entries) -> Entries:
    """Return log, receipts, counts, and what else the job took."""
    dice = job.dice
    found = _log(job, kept)
    costs = {
        v: kept["quoted_products", "cost", i] / kept["quoted_products", "bought", i]  # type: ignore[operator]
        for (block, name, i), v in kept.items()
        if (block, name) == ("quoted_products", "product")
    }
    row = count = 0
    for product, (mixed, about) in _amount_of(job).items():
        if mixed <= 0 or dice.random() < 0.08:
            continue
        price = float(str(costs.get(product, about))) * dice.uniform(0.9, 1.25)
        contents = round(dice.uniform(0.8, 4), 3)
        packs = int(mixed * dice.uniform(1.0, 1.3) / contents) + 1
        split = dice.randint(1, packs) if packs > 1 and dice.random() < 0.5 else packs
        lots = [("bought", split), (dice.choice(["bought", "from shelf"]), packs - split)]
        if packs > 2 and dice.random() < 0.3:
            lots.append(("sent back", 1))
        came = 0.0
        for number, (kind, many) in enumerate(lots):
            if many:
                each = round(contents * price * dice.uniform(0.97, 1.03), 2)
                came += -many * contents if kind == "sent back" else many * contents
                found |= _receipt(job, row, number, product, kind, many, contents, each)
                row += 1
        if dice.random() < 0.85:
            share = dice.uniform(0.97, 1.04) if dice.random() < 0.7 else dice.uniform(0.5, 1.0)
            rest = max(round(came - mixed * share, 3), 0.0)
            found |= _counted(job, count, product, rest)
            count += 1
    if dice.random() < 0.15:  # a product nobody quoted
        product = dice.choice(_products(job))
        found |= _receipt(job, row, 9, product, "bought", 1, 1.5, 33.33)
    for index in range(3):
        area = kept.get(("quoted_layers", "coated", index))
        if isinstance(area, float) and dice.random() < 0.4:
            found["coated", "done", index] = round(area * dice.uniform(0.85, 1.15), 2)
    found |= _invoiced(job, found)
    steps = [v for (block, name, _), v in kept.items() if (block, name) == ("quoted_steps", "step")]
    if steps and dice.random() < 0.4:
        for index in range(dice.randint(1, 6)):
            worked = {
                "date": dt.date(2027, 1, 12) + dt.timedelta(days=index),
                "worked_step": dice.choice(steps),
                "hours": round(dice.uniform(0.5, 9), 2),
            }
            found |= _row("worked", index, worked)
    spent = {
        "hours": round(dice.uniform(5, 80), 1),
        "sundries": round(dice.uniform(20, 300), 2),
        "days": dice.randint(1, 9),
        "other": round(dice.uniform(5, 200), 2),
        "invoiced": round(dice.uniform(500, 9000), 2),
    }
    return found | _row("spent", 0, {n: v for n, v in spent.items() if dice.random() < 0.4})


def _invoiced(job: _Job, used: Entries) -> Entries:
    """Return some of the receipts' invoices with their other lines, most of them in order."""
    dice, found = job.dice, Entries()
    lines: dict[tuple[object, object], float] = {}
    rows = sorted({key[2] for key in used if key[0] == "receipts"})
    products = [used["receipts", "product", row] for row in rows]
    for row in rows:
        held = {n: used.get(("receipts", n, row)) for n in ("supplier", "document", "kind")}
        cost = round(float(str(used["receipts", "price", row])) * 100)
        cost *= int(str(used["receipts", "packs", row]))
        sign = {"from shelf": 0, "sent back": -1}.get(str(held["kind"]), 1)
        at = (held["supplier"], held["document"])
        lines[at] = lines.get(at, 0.0) + sign * cost
    extra = 0
    for index, ((supplier, document), cents) in enumerate(lines.items()):
        if dice.random() < 0.5:
            continue
        total = cents
        for kind in dice.sample(["additive", "sundry", "freight", "tax", "deposit", "credit"], 3):
            amount = dice.randint(-900, 9000)
            cells = {"supplier": supplier, "document": document, "kind": kind}
            cells |= {"amount": amount / 100, "what": dice.choice([None, "by lorry"])}
            if kind == "credit" and dice.random() < 0.6:
                cells["product"] = dice.choice(products)
            total += -abs(amount) if kind == "credit" else amount
            found |= _row("extras", extra, cells)
            extra += 1
        wrong = dice.random() < 0.06
        cells = {
            "supplier": supplier,
            "document": document,
            "date": dt.date(2027, 1, 8),
            "total": (total + wrong) / 100,
            "spread": dice.choice([None, "freight", "Freight and tax"]),
        }
        found |= _row("invoices", index, cells)
    return found


def _receipt(
    job: _Job,
    row: int,
    line: int,
    product: str,
    kind: str,
    packs: int,
    contents: float,
    each: float,
) -> Entries:
    dice = job.dice
    cells = {
        "supplier": dice.choice(["Depot", None]),
        "document": f"R-{100 + row // 2}",
        "date": dt.date(2027, 1, 5) + dt.timedelta(days=dice.choice([0, 1, 3, 12])),
        "line": line + 1,
        "kind": kind,
        "product": product,
        "holds": "kit",
        "lot": f"K-{product[:3]}-{line}",
        "expiry": dt.date(2027, 1, 14) + dt.timedelta(days=300) if dice.random() < 0.3 else None,
        "packs": packs,
        "contents": contents,
        "price": each,
        "currency": dice.choice([None, None, job.told.get("money", "currency")]),
    }
    return _row("receipts", row, cells)


def _counted(job: _Job, row: int, product: str, rest: float) -> Entries:
    goes = job.dice.choice(["back on the shelf", "back on the shelf", "thrown away"])
    cells = {"product": product, "date": dt.date(2027, 1, 25), "rest": rest, "goes": goes}
    return _row("left", row, cells)


def _log(job: _Job, kept: Entries) -> Entries:
    """Return the planned batches as somebody may have mixed them."""
    dice, found = job.dice, Entries()
    films = {
        kept["quoted_layers", "layer", i]: v
        for (block, name, i), v in kept.items()
        if (block, name) == ("quoted_layers", "wet")
    }
    named = zip(
        job.told.column("amounts", "layer"), job.told.column("amounts", "product"), strict=True
    )
    products = {layer: str(product) for layer, product in named}
    measured = dice.random() < 0.7
    for row in range(min(job.plan.block("batches").rows, 50)):
        layer = job.told.get("batches", "layer", row)
        if job.told.get("batches", "status", row) != "ok":
            break
        started = dt.datetime(2027, 1, 14, 9) + dt.timedelta(hours=row * dice.choice([1, 8, 14]))
        product = products.get(layer, "")
        cells: dict[str, object] = {
            "layer": layer,
            "started": started,
            "ended": started + dt.timedelta(minutes=dice.choice([15, 30, 75])),
            "batch": row + 1,
            "lot_a": dice.choice([f"K-{product[:3]}-0", f"K-{product[:3]}-1", "other"]),
            "air": _warm(job, dice.uniform(17, 27)) if dice.random() < 0.8 else None,
            "surface": _warm(job, dice.uniform(15, 25)) if dice.random() < 0.5 else None,
            "humidity": round(dice.uniform(0.3, 0.7), 2) if dice.random() < 0.6 else None,
        }
        for part in "abc":
            mass = job.number("batches", f"mass_{part}", row)
            if mass:
                cells[f"mass_{part}"] = round(mass * dice.uniform(0.985, 1.03), 1)
        if measured and isinstance(films.get(layer), float) and dice.random() < 0.8:
            wet = float(str(films[layer])) * dice.uniform(0.85, 1.2)
            cells["wet"] = round(wet, 3) or None
        found |= _row("log", row, cells)
    return found


SPOILT: tuple[tuple[str, str, tuple[object, ...]], ...] = (
    ("receipts", "currency", ("GBP",)),
    ("receipts", "product", ("Unknown", None)),
    ("receipts", "packs", ("two", -1, None)),
    ("receipts", "contents", (0, None)),
    ("receipts", "kind", ("lent", None)),
    ("receipts", "price", (None, "dear")),
    ("receipts", "date", ("soon", None)),
    ("log", "layer", ("Nowhere", None)),
    ("log", "started", (None, dt.datetime(2026, 12, 1, 9))),
    ("log", "ended", (dt.datetime(2026, 12, 1, 8),)),
    ("log", "mass_a", ("some", 0, None)),
    ("log", "humidity", (5,)),
    ("left", "product", ("Unknown",)),
    ("left", "rest", (-1, "half", None, 999)),
    ("left", "goes", ("gone", None)),
    ("quoted_lines", "item", ("Something else",)),
    ("quoted_lines", "amount", (None,)),
    ("limits", "film_off", (None,)),
    ("accounts", "waste", (None,)),
    ("settle_state", "unexplained", (None, 0)),
    ("spent", "hours", (0,)),
    ("invoices", "total", (None, 1.25, "much")),
    ("invoices", "document", (None, "R-100")),
    ("invoices", "spread", ("all",)),
    ("extras", "kind", (None, "gift")),
    ("extras", "amount", (None, "some")),
    ("extras", "product", ("Unknown",)),
    ("extras", "document", ("R-999",)),
    ("worked", "worked_step", ("Nothing", None)),
    ("worked", "hours", (None, -2)),
)
EMPTIED = {"limits", "accounts", "settle_state"}


def _spoil(dice: random.Random, found: Entries) -> None:
    block, name, values = dice.choice(SPOILT)
    rows = sorted({key[2] for key in found if key[0] == block}) or [0]
    if block not in EMPTIED and not any(key[0] == block for key in found):
        return
    found[block, name, dice.choice(rows)] = dice.choice(values)


def _changed(job: _Job, entries: Mapping[Entry, object]) -> Entries:
    """Return entries changed after the quote was accepted."""
    dice = job.dice
    rows = sorted({key[2] for key in entries if key[0] == "layers"}) or [0]
    product = next(key for key in entries if key[:2] == ("products", "product"))
    changes: list[Entries] = [
        {("rates", "uplift", 0): 0.41},
        {("layers", "loss", rows[0]): 0.123},
        {("rooms", "count", 0): 4},
        {("rates", "option", 0): dice.choice(OPTIONS)},
        {("money", "tax", 0): 0.07},
        {product: "Renamed"},
        {("rates", "labour", 0): None},
        {("packs", "price", 0): 199.99},
    ]
    return dice.choice(changes)
