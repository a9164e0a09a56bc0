"""Holds what hosts say of the same cells against each other.

Contract: :func:`compare` adds to a :class:`Tally` and lists every disagreement with job seed, sheet
and cell. Numbers agree when they are apart by at most :data:`CLOSE` of the larger, where anything
below :data:`FLOOR` counts as that much, a length in days below :data:`FLOOR_DAYS`, a difference of
two amounts of money below :data:`FLOOR_OF_TWO`; texts, errors and the kinds of values must be
equal; the rounded money lines must be equal to the cent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pourbook.cells import Address, CellError, Value
from pourbook.trade.price.build_up import round_money
from pourbook.workbook.layout.laid_out import Layout

CLOSE = 1e-9
FLOOR = 0.01
FLOOR_DAYS = 1.0
"""Of a length of time in days: it is the difference of two dates, which hold 7e-12 days at best."""

FLOOR_OF_TWO = 10.0
"""Of money that is the difference of two amounts: profit, and what an accepted line changed by."""

ROUNDED = {(block, line) for block in ("price", "quote_price") for line in ("net", "tax", "gross")}
Values = Mapping[Address, Value]


@dataclass
class Tally:
    """What was compared so far.

    ``cells`` counts cells of the workbooks, ``numbers`` those that are numbers, ``by_host`` those a
    host was held to, ``native`` those the pipeline works out a second time, ``called`` those of
    blocks, which were held to a plain call of their function. ``largest`` is the largest relative
    difference of each host, and where: from the pipeline where that covers the cell, else from the
    first host. ``edges`` are unrounded money cells that agree and yet round to different cents, by
    noise alone.
    """

    jobs: int = 0
    cells: int = 0
    by_host: dict[str, int] = field(default_factory=dict)
    numbers: int = 0
    native: int = 0
    called: int = 0
    refusals: int = 0
    cents: int = 0
    edges: list[str] = field(default_factory=list)
    largest: dict[str, tuple[float, str]] = field(default_factory=dict)
    apart: list[str] = field(default_factory=list)


def apart(one: float, other: float, floor: float = FLOOR) -> float:
    """Return how far two numbers are apart, relative to the larger or to the floor.

    Example:
        >>> apart(100.0, 101.0), apart(0.0, 0.0)
        (0.009900990099009901, 0.0)
    """
    return abs(one - other) / max(abs(one), abs(other), floor)


def _is_number(value: Value) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def compare(
    seed: int, plan: Layout, hosts: Mapping[str, Values], pipeline: Values | None, tally: Tally
) -> None:
    """Compare one job.

    Args:
        seed: The job's seed, for the report.
        plan: Its layout.
        hosts: The values of computed cells, by the host's name; the first has every cell.
        pipeline: The values of the cells the pipeline covers; None leaves it out.
        tally: Is added to.
    """
    tally.jobs += 1
    names = list(hosts)
    for where in hosts[names[0]]:
        cell = plan.by_address[where]
        said: dict[str, Value] = {}
        if pipeline and where in pipeline:  # of a block of functions it is no oracle but a call
            said["call" if cell.fill else "pipeline"] = pipeline[where]
            tally.called += bool(cell.fill)
            tally.native += not cell.fill
        said |= {name: hosts[name][where] for name in names if where in hosts[name]}
        tally.cells += 1
        place = f"job {seed}, {where[0]}!{where[1]}"
        first, *others = said.values()
        tally.numbers += _is_number(first)
        tally.refusals += isinstance(first, str) and first.startswith("!")
        money = cell.field is not None and cell.field.unit == "@money"
        line = (cell.block, cell.field.id if cell.field else "")
        days = cell.field is not None and cell.field.unit == "days"
        of_two = cell.block == "quoted_lines" or line == ("price", "profit")
        floor = FLOOR_DAYS if days else FLOOR_OF_TWO if of_two else FLOOR
        reasons = []
        for name, other in zip(list(said)[1:], others, strict=True):
            tally.by_host[name] = tally.by_host.get(name, 0) + 1
            if _is_number(first) and _is_number(other):
                far = apart(float(first), float(other), floor)  # type: ignore[arg-type]
                tally.largest[name] = max(tally.largest.get(name, (0.0, "")), (far, place))
                if far > CLOSE:
                    reasons.append(name)
                elif money and round_money(float(first)) != round_money(float(other)):  # type: ignore[arg-type]
                    if line in ROUNDED:
                        tally.cents += 1
                        reasons.append(name)
                    else:
                        tally.edges.append(f"{place}: {_show(first)}, {name} {_show(other)}")
            elif type(first) is not type(other) or first != other:
                reasons.append(name)
        if reasons:
            shown = ", ".join(f"{name} {_show(value)}" for name, value in said.items())
            tally.apart.append(f"{place} ({cell.block}): {shown}")


def _show(value: Value) -> str:
    return str(value) if isinstance(value, CellError) else repr(value)
