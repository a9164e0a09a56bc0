"""Freezes a quote: what accepting an option writes on the sheet Quoted.

Contract: nothing is worked out anew: :func:`frozen` copies what Price, Amounts and Buying give, and
adds up a product's layers and packs; :func:`entries_of` adds day, name, revision, earlier revisions
and seals. Nothing here opens or changes a file.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping

from pourbook import units
from pourbook.cells import OK, Address, Value, is_blank, text, unmarked, word
from pourbook.dates import day_number
from pourbook.errors import BlankError, InputError, UnknownError
from pourbook.functions.own.entered import RESTS_ON, STEPS_ALONE
from pourbook.tables.buy.packs import AMOUNTS_USED, charge_of
from pourbook.workbook.check import quoted
from pourbook.workbook.check.quoted import Key
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells
from pourbook.workbook.read.read import RawBook

Record = dict[str, Value]


def frozen(
    plan: Layout, book: RawBook, values: Mapping[Address, Value], option: str
) -> dict[Key, Value]:
    """Return what accepting an option writes on Quoted, without day, name, revision and seal.

    Numbers are cut to 15 digits, which every spreadsheet program keeps.

    Args:
        plan: The layout.
        book: The workbook as read.
        values: Its recomputed cells, with the option as the option to offer.
        option: The option accepted.

    Raises:
        InputError: The option has no price, or has more packs than Quoted has rows.
    """
    get = NamedCells(plan, book, values).value

    declared = plan.block("price")
    if option not in declared.instances:
        mend = f"choose {', '.join(declared.instances)}"
        if not option:
            raise BlankError("no option is chosen", mend)
        raise UnknownError(f"'{option}' is no option", mend)
    which = declared.instances.index(option)
    currency = text(get("money", "currency"))
    lines = [
        {
            "item": plan.text(item.header),
            "amount": _priced(plan, get("price", item.id, which), option, item.id, which),
            "in": plan.unit(item.unit).replace("@money", currency).replace("%", "share"),
        }
        for item in declared.columns
        if item.format != "text"
    ]
    layers = [
        _row(get, "amounts", index, "layer", "product", "number", "coated", "wet", "mixed")
        | {
            "net": number_of(get("amounts", "net", index))
            + number_of(get("amounts", "take_up", index))
        }
        for index in range(plan.block("amounts").rows)
        if text(get("amounts", "option", index)) == option
        and text(get("amounts", "status", index)) == OK
    ]
    packs = _packs(plan, get)
    costs = {
        text(get("buying", "buy_product", row)).casefold(): get(
            "buying", f"cost_{option.lower()}", row
        )
        for row in range(plan.block("buying").rows)
    }
    written: dict[Key, Value] = {
        ("quoted", "option", 0): option,
        ("quoted", "quote_date", 0): get("start", "date"),
        ("quoted", "currency", 0): currency,
        ("quoted", "area", 0): get("measured", "total"),
        ("quoted", "tax_rate", 0): get("money", "tax"),
    }
    digests = quoted.sheet_digests(plan, book, values)
    written["quoted", "digest", 0] = quoted.whole(digests)
    _put(plan, written, "quoted_lines", lines)
    _put(plan, written, "quoted_layers", layers)
    products = _products(layers, packs, costs)
    _put(plan, written, "quoted_packs", packs)
    older = ("rates", "charge", 0) not in plan.entry_at  # they charge the packs opened
    if not older and charge_of(get("rates", "charge")) == AMOUNTS_USED:
        products = [{**product, "bought": product["mixed"]} for product in products]
    if "quoted_steps" in plan.places:
        _put(plan, written, "quoted_steps", _steps(plan, get, option, which))
    _put(plan, written, "quoted_products", products)
    _put(plan, written, "quoted_sheets", [{"name": n, "digest": d} for n, d in digests.items()])
    return {key: _kept_whole(value) for key, value in written.items() if not is_blank(value)}


def _kept_whole(value: Value) -> Value:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return text(value)
    return float(f"{value:.15g}")


def number_of(value: Value) -> float:
    """Return a figure as a number; what is none counts as 0."""
    return float(value) if isinstance(value, int | float) else 0.0


def _row(get: Callable[..., Value], block: str, index: int, *names: str) -> Record:
    return {name: get(block, name, index) for name in names}


def _priced(plan: Layout, value: Value, option: str, name: str, which: int) -> Value:
    """Return a line of the price, or refuse the option with what stands there."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    cell = plan.cell("price", name, which)
    why = unmarked(value) or "it has no layers"
    mend = "fix it, or accept another option"
    where = f"{cell.sheet}!{cell.address}"
    raise InputError(f"option {option} is not in order: {why}", mend, where)


def _packs(plan: Layout, get: Callable[..., Value]) -> list[Record]:
    """Return the packs to buy and the lots to take for the option to offer."""
    system = plan.system
    found: list[Record] = []
    for row in range(plan.block("packs").rows):
        if number_of(get("packs", "count", row)) > 0:
            typed = get("packs", "contents", row)
            si = units.read(typed, "volume", default=system.volume, fluids=system.fluids)
            contents = units.express(si, system.volume)
            pack = _row(get, "packs", row, "product", "holds", "price", "count")
            found.append({**pack, "contents": contents})
    for row in range(plan.block("stock").rows):
        taken = number_of(get("stock", "used", row))
        if taken > 0:
            lot = _row(get, "stock", row, "product", "holds", "lot")
            paid = {"price": get("charged", "stock_cost", row)} if "charged" in plan.places else {}
            found.append({**lot, **paid, "contents": taken})
    return found


WAITING, NOT_QUOTED = "Waiting, paid by the day", "Not quoted"
"""The steps of hours that the days on site cost beyond the work, and of those nobody quoted."""


def _steps(plan: Layout, get: Callable[..., Value], option: str, which: int) -> list[Record]:
    """Return the hours of labour in the price by step: those of Days, and what waiting adds."""

    def said(block: str, name: str) -> str:
        return plan.text(plan.block(block).field(name).header)

    column = f"hours_{option.lower()}"
    found: list[Record] = [
        {"step": text(get("labour", "step", row)), "hours": number_of(get("labour", column, row))}
        for row in range(plan.block("labour").rows)
        if text(get("labour", "step", row))
    ]
    steps = number_of(get("price", "by_step", which))
    prepared = sum(
        number_of(get("survey", "prep_hours", row)) for row in range(plan.block("survey").rows)
    )
    if word(get("rates", "paid_by")) != word(STEPS_ALONE):
        prepared += number_of(get("pace", "prepare"))
    rest = steps - prepared - sum(number_of(one["hours"]) for one in found)
    beyond = number_of(get("price", "hours", which)) - steps
    more = {
        said("pace", "preparing"): prepared,
        said("options", "option_steps"): rest,
        WAITING: beyond,
    }
    found += [{"step": n, "hours": h} for n, h in more.items() if round(h, 9) > 0]
    return [*found, {"step": NOT_QUOTED, "hours": 0.0}]


def _products(
    layers: list[Record], packs: list[Record], costs: Mapping[str, Value]
) -> list[Record]:
    """Return the products of an option: their layers and their packs added up."""
    found: dict[str, Record] = {}
    for layer in layers:
        name = text(layer["product"])
        new: Record = {"product": name, "net": 0.0, "mixed": 0.0, "bought": 0.0}
        product = found.setdefault(name.casefold(), {**new, "cost": costs.get(name.casefold())})
        for column in ("net", "mixed"):
            product[column] = number_of(product[column]) + number_of(layer[column])
    for pack in packs:
        product = found[text(pack["product"]).casefold()]
        held = number_of(pack["contents"]) * (number_of(pack["count"]) if "count" in pack else 1.0)
        product["bought"] = number_of(product["bought"]) + held
    return list(found.values())


def _put(plan: Layout, written: dict[Key, Value], block: str, rows: list[Record]) -> None:
    declared = plan.block(block)
    if len(rows) > declared.rows:
        title = plan.text(declared.title)
        what = f"'{title}' on {quoted.SHEET} has {declared.rows} rows, and {len(rows)} are needed"
        mend = "split the job, or leave products out"
        if block.startswith("revision"):
            mend = "keep this file as it is, and quote what comes now as a job of its own"
        raise InputError(what, mend, quoted.SHEET)
    for index, row in enumerate(rows):
        written.update({(block, name, index): value for name, value in row.items()})


def entries_of(
    plan: Layout,
    before: Mapping[Key, Value],
    fresh: Mapping[Key, Value],
    by: str,
    on: dt.date,
    change: str = "",
) -> dict[Key, Value]:
    """Return every cell of Quoted as it is to be written; None blanks one.

    Args:
        plan: The layout.
        before: What stands on Quoted.
        fresh: What :func:`frozen` gives.
        by: Who accepted it.
        on: The day it was accepted.
        change: What a change order after work has begun is for.

    Raises:
        InputError: The tables of earlier revisions are full.
    """
    new = dict(fresh)
    last = int(number_of(before.get(("quoted", "revision", 0))))
    new["quoted", "revision", 0] = float(last + 1)
    new["quoted", "accepted_on", 0] = float(day_number(on))
    new["quoted", "accepted_by", 0] = by or None
    new["quoted", "change", 0] = change or None
    _earlier(plan, before, new)
    rows = len(RESTS_ON)
    seals = quoted.table_seals(plan, new).items()
    for index, (title, digest) in enumerate(seals, start=rows):
        new["quoted_sheets", "name", index] = title
        new["quoted_sheets", "digest", index] = digest
    new["quoted", "seal", 0] = quoted.seal(plan, new)
    return {key: new.get(key) for key in plan.kept_at if plan.kept_at[key].sheet == quoted.SHEET}


def _earlier(plan: Layout, before: Mapping[Key, Value], new: dict[Key, Value]) -> None:
    """Add what was accepted so far to the tables of earlier revisions."""
    revisions = records(before, "revisions")
    products = records(before, "revision_products")
    if before:
        form = {f.id: before.get(("quoted", f.id, 0)) for f in plan.block("quoted").columns}
        price = {line["item"]: line.get("amount") for line in records(before, "quoted_lines")}
        wanted = {f.id: plan.text(f.header) for f in plan.block("price").columns}
        revisions.append(
            {n: form[n] for n in ("revision", "accepted_on", "change", "option", "area", "digest")}
            | {n: price.get(wanted[n]) for n in ("net", "tax", "gross", "material")}
        )
        names = [f.id for f in plan.block("revision_products").columns]
        products += [
            {name: row.get(name) for name in names} | {"revision": form["revision"]}
            for row in records(before, "quoted_products")
        ]
    _put(plan, new, "revisions", revisions)
    _put(plan, new, "revision_products", products)


def records(figures: Mapping[Key, Value], block: str) -> list[Record]:
    """Return the filled rows of a table of Quoted."""
    rows: dict[int, Record] = {}
    for (owner, name, index), value in figures.items():
        if owner == block:
            rows.setdefault(index, {})[name] = value
    return [rows[index] for index in sorted(rows)]
