"""Several functions in one call: each gives in its columns what it gives alone."""

from __future__ import annotations

import pytest
from tests.agreement import jobs
from tests.agreement.pipeline import Pipeline

from pourbook.cells import Rows, Value
from pourbook.functions.catalogue import JOINTS, catalogue, evaluate
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.guests import within_id
from pourbook.workbook.template.template import load_book

BLOCKS = [b for s in load_book("job").sheets for b in s.blocks if b.fill]
HOSTS = {b.fill.function: b.id for b in BLOCKS if b.fill and b.fill.function in JOINTS}
GUESTS = {b.id: b.fill.within for b in BLOCKS if b.fill and b.fill.within}


def test_every_joint_call_stands_in_one_table_with_its_guests() -> None:
    assert HOSTS.keys() == JOINTS.keys()
    for name, (_, *guests) in JOINTS.items():
        assert {block: HOSTS[name] for block, _ in guests}.items() <= GUESTS.items()
        for block, function in guests:
            fill = load_book("job").block(block).fill
            assert fill is not None
            assert fill.function == function
    assert len(GUESTS) == sum(len(guests) for _, *guests in JOINTS.values())


def test_a_call_fewer_for_each_guest() -> None:
    calls = [b.id for b in BLOCKS if b.fill and not b.fill.within]
    assert len(calls) + 1 <= 16, "one more asks whether functions are live"


@pytest.mark.parametrize("seed", range(12))
def test_guests_give_what_they_give_alone(seed: int) -> None:
    """Random jobs, mistakes among them: the columns of a guest are the result of its function."""
    sample = jobs.make(seed)
    plan: Layout = jobs.layout(sample.system)
    job = Pipeline(plan, sample.entries)
    for guest, host in GUESTS.items():
        block = plan.block(guest)
        assert block.fill is not None
        for item in block.fill.columns:
            alone = job.column(guest, item.id)
            aside = job.column(host, within_id(guest, item.id))
            assert aside[: len(alone)] == alone, (guest, item.id)
            assert set(aside[len(alone) :]) <= {"", alone[0]}, (
                "a refusal of the whole stands in all"
            )


@pytest.mark.parametrize("name", JOINTS)
def test_what_one_refuses_stands_in_its_columns_alone(name: str) -> None:
    own, *guests = JOINTS[name]
    function = catalogue()[name]
    for block, guest in guests:
        alone = catalogue()[guest]
        handed: dict[str, object] = {}
        for one in (alone, catalogue()[own]):  # the host's own example goes before the guest's
            shown = one.examples[0].arguments
            handed |= dict(zip([a.name for a in one.arguments], shown, strict=False))
        first = alone.arguments[0].name
        place = (
            f"{block}_{first}"
            if f"{block}_{first}" in {a.name for a in function.arguments}
            else first
        )
        if place in {a.name for a in catalogue()[own].arguments}:
            continue  # the host would refuse it too
        wrong = [["too", "few"]]
        given = [wrong if a.name == place else handed.get(a.name) for a in function.arguments]
        found = evaluate(name, given)  # type: ignore[arg-type]
        assert isinstance(found, list)
        columns = [c.id for c in function.columns]
        at = columns.index(within_id(block, alone.columns[0].id))
        assert str(found[0][at]).startswith("! ")
        mine = evaluate(own, [handed.get(a.name) for a in catalogue()[own].arguments])  # type: ignore[misc]
        assert isinstance(mine, list)
        assert [list(row[: len(catalogue()[own].columns)]) for row in found[: len(mine)]] == [
            list(row) for row in mine
        ]


def test_too_many_arguments_are_refused() -> None:
    for name in JOINTS:
        given: list[Value | Rows] = [None] * (len(catalogue()[name].arguments) + 1)
        assert name in str(evaluate(name, given))
