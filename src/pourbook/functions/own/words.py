"""PB_WORDS: every typed word that formulas compare, in the one form that all of them compare.

Contract: one result column for each range that is handed over, row by row beside it. A word is
written in small letters, without blanks that nobody sees; a sign that a spreadsheet would take for
a wildcard, a comparison, a number or a date is written so that it stands for itself. Two cells have
one meaning exactly if their words are the same text.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook.cells import OK, Rows, Value, as_mapping, refuse_errors, word
from pourbook.errors import FAILED, InputError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.declared import Column

ROWS = 60
"""Rows of the longest table of a job."""

WORDS = {
    "layers_option": "options of the layers",
    "layers_method": "methods of the layers",
    "layers_before": "steps before the layers",
    "rates_option": "option to offer",
    "rates_overhead_on": "base of overhead",
    "rates_uplift_is": "way profit is set",
    "money_currency": "currency of the job",
    "labour_per": "quantities the hours are for",
    "sundries_item_per": "quantities the sundries are for",
    "products_product": "products",
    "quoted_option": "option that was accepted",
    "quoted_layers_product": "products of the accepted layers",
    "quoted_products_product": "accepted products",
    "buying_buy_product": "products to buy",
    "coated_layer": "layers that were coated",
    "log_layer": "layers of the log",
    "used_used_product": "products of the log",
    "receipts_kind": "kinds of the receipts",
    "receipts_product": "products of the receipts",
    "receipts_currency": "currencies of the receipts",
    "left_product": "products that were counted",
    "left_goes": "places where the rests go",
    "rates_paid_by": "way labour is paid",
    "landed_at": "receipts by supplier and number",
    "ties_at": "invoices by supplier and number",
    "extra_ties_at": "other lines by supplier and number",
    "invoices_spread": "what invoices spread",
    "extras_kind": "kinds of the other lines",
    "extras_product": "products of the credits",
    "quoted_steps_step": "accepted steps",
    "worked_worked_step": "steps that were worked",
    "rates_charge": "what a quote charges",
    "rates_leftovers": "worth of what comes back",
}
"""Every column of words, by ``block_column`` of the job."""
_LATER = tuple(WORDS)[list(WORDS).index("rates_paid_by") :]
"""Those that jobs of templates 1 do not hand over."""


def words(*ranges: Rows) -> Result:
    """Return the words of every range beside each other, as many rows as the longest table has.

    Raises:
        InputError: A cell shows an error value or a refusal.
    """
    missing: list[Rows] = [()] * (len(WORDS) - len(ranges))
    columns = [
        [_read(name, what, row) for row in cells[:ROWS]]
        for (name, what), cells in zip(WORDS.items(), [*ranges, *missing], strict=True)
    ]
    return [[OK, *(c[n] if n < len(c) else "" for c in columns)] for n in range(ROWS)]


def _read(name: str, what: str, row: Sequence[Value]) -> str:
    label = what[0].upper() + what[1:]
    try:
        held = as_mapping(row, (name,))
    except InputError as error:
        raise error.at(label) from None
    if held[name] == FAILED:  # a row that says itself what is wrong with it
        return ""
    refuse_errors(held, {name: label})
    return word(held[name])


_TYPED = (" Flood\u00a0coat", "A ", "", "12", "<1 mm")
_EXAMPLE = tuple(((_TYPED[n % len(_TYPED)],),) for n in range(len(WORDS)))
_FIRST = tuple(
    ("flood coat", "a", "", "·12", "·＜1 mm")[n % len(_TYPED)] for n in range(len(WORDS))
)
_BLANK = ((OK, *("",) * len(WORDS)),) * (ROWS - 1)

PB_WORDS = Function(
    name="PB_WORDS",
    summary="Every typed word that formulas compare, in the one form that all of them compare.",
    arguments=tuple(
        Argument(name, "rows", f"The {what}.", columns=(name,), optional=name in _LATER)
        for name, what in WORDS.items()
    ),
    result="a block: ok, then the words of each range in a column of its own",
    valid="always",
    source="Pourbook itself",
    examples=(Example(_EXAMPLE, ((OK, *_FIRST), *_BLANK)),),
    compute=words,
    columns=(
        Column("words_status", "ok, or which words cannot be read"),
        *(Column(f"word_{name}", f"The {what}.") for name, what in WORDS.items()),
    ),
    rows=ROWS,
)
