"""A word means the same in every formula: blanks, capitals and signs of formulas do not count."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from pourbook.cells import Value, word
from pourbook.functions.own.words import WORDS
from pourbook.hosts import headless
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Bare = Callable[[Layout, Mapping[Entry, object]], Path]
NBSP, ZERO_WIDTH, IDEOGRAPHIC = "\u00a0", "\u200b", "\u3000"
SIGNS = ("*", "<", "?", "~", ">=0", "=", "<>", "*base", "1 ?", "12", "01", "true", "Jan 5")
"""Names that a formula would take for something else: a pattern, a comparison, a number, a date."""


def _odd(value: str, way: int) -> str:
    """Write a word as it may come from another program, in one of several ways."""
    return (
        f"{value} ",
        f"{NBSP}{value}{ZERO_WIDTH}",
        value.upper().replace(" ", NBSP + " "),
        f"\t{value}{IDEOGRAPHIC}",
    )[way % 4]


def _typed(path: Path, plan: Layout) -> dict[Entry, str]:
    """Return every typed word that a formula compares."""
    book = read_book(path)
    found = {key: book.sheets[c.sheet].value(c.address) for key, c in plan.entry_at.items()}
    return {
        key: value
        for key, value in found.items()
        if f"{key[0]}_{key[1]}" in WORDS and isinstance(value, str) and value
    }


def _figures(path: Path, plan: Layout) -> dict[tuple[str, str], Value]:
    """Return every number of the book, and every state and check."""
    told = {"words", "entered"}  # what was typed, in another form
    wanted = [c for c in plan.cells if (c.formula or c.fill) and c.block not in told]
    values = headless.engine("fast").recompute(path, [(c.sheet, c.address) for c in wanted]).values
    return {
        key: value
        for key, value in values.items()
        if not isinstance(value, str) or value.startswith(("!", "CHECK", "OK", "ok"))
    }


def test_odd_blanks_and_capitals_change_no_figure(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """All words of a settled job at once."""
    typed = _typed(settled_us, plan_us)
    odd = {key: _odd(value, n) for n, (key, value) in enumerate(sorted(typed.items()))}
    for key in typed:  # the quote was accepted with the names as they are written
        if not plan_us.block(key[0]).field(key[1]).choices:
            odd[key] = _odd(typed[key], 1)
    assert {f"{block}_{name}" for block, name, _ in odd} >= {
        *("layers_option", "layers_method", "layers_before", "rates_option", "rates_uplift_is"),
        *("labour_per", "sundries_item_per", "products_product", "log_layer"),
        *("receipts_kind", "receipts_product", "left_product", "left_goes"),
    }
    target = tmp_path / "odd.xlsx"
    fill(settled_us, target, odd, force=False)
    assert _figures(target, plan_us) == _figures(settled_us, plan_us)
    assert check_file(target).findings == ()


@pytest.mark.parametrize("shift", range(0, len(SIGNS), 3))
def test_a_name_with_signs_of_formulas_means_itself(
    shift: int,
    settled_us: Path,
    plan_us: Layout,
    write_bare: Bare,
) -> None:
    """Every product and layer of a settled job renamed wherever its name stands."""
    book = read_book(settled_us)
    at = {**plan_us.entry_at, **plan_us.kept_at}
    entries = {key: book.sheets[c.sheet].value(c.address) for key, c in at.items()}
    named = ("products", "product"), ("layers", "layer")
    names = dict.fromkeys(entries[key] for key in sorted(entries) if key[:2] in named)
    names.pop(None, "")
    names.pop("", "")
    new = {name: SIGNS[(n + shift) % len(SIGNS)] for n, name in enumerate(names)}
    assert len(set(new.values())) == len(new)
    sealed = ("quoted_sheets", "digest")  # of the old names: in neither job
    plain = {k: v for k, v in entries.items() if v is not None and k[:2] != sealed}
    renamed = {k: new.get(v, v) if isinstance(v, str) else v for k, v in plain.items()}
    before = _figures(write_bare(plan_us, plain), plan_us)
    assert _figures(write_bare(plan_us, renamed), plan_us) == before


def test_what_differs_to_a_person_differs_to_a_formula() -> None:
    assert len({word(sign) for sign in SIGNS}) == len(SIGNS)
    assert word("Flood") != word("Flood 2") != word("Flood2")
    assert word(12.0) == word("12 ")
