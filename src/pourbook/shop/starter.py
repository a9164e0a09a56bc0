"""What a job begins with without a shop, and a shop: generic products, finishes, sundries, steps.

Contract: :func:`entries` gives them in the units asked for. Every figure is usual practice with no
source and says so; every price is blank, no company and no stock is in it. The figures stand in
``shared/starter/starter.toml`` and nowhere else.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from pourbook import resources, units
from pourbook.cells import Value
from pourbook.errors import TemplateError
from pourbook.job.make import Entries, read_scenario
from pourbook.shop.shop import GOES_BY, converted
from pourbook.tables import reading
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.lay_out import lay_out

_OUNCE = "fl oz"
_CURRENCY = {"us": "USD"}
"""Currency of a unit system, where there is one."""


def entries(system: str, book: str, day: dt.date) -> Entries:
    """Return what a workbook without a shop begins with.

    Args:
        system: The measure system: ``"us"``, ``"imperial"`` or ``"metric"``.
        book: ``"job"`` or ``"shop"``.
        day: The day from which the packs of a shop are listed, still without a price.

    Raises:
        TemplateError: The starter names an entry the job does not have.

    Example:
        >>> begun = entries("metric", "job", dt.date(2026, 11, 28))
        >>> begun["finishes", "finish", 0], begun["packs", "contents", 0]
        ('tinted base, clear flood, matte top', '1 US gal')
    """
    scenario = read_scenario(_file())
    job, target = lay_out("job", system, 1), lay_out(book, system, 1)
    old = SYSTEMS[scenario.system]
    found: Entries = {}
    for (block, name, row), typed in scenario.entries.items():
        if (block, name, row) not in job.entry_at:
            raise TemplateError(f"there is no entry {block}.{name}", "", str(_file()))
        value: Value = typed  # type: ignore[assignment]
        if isinstance(value, str) and system != scenario.system:
            value = value.replace(_OUNCE, f"US {_OUNCE}")  # elsewhere it is no one ounce
        goes_by = str(scenario.entries.get((block, GOES_BY.get((block, name), ""), row), ""))
        if book == "shop" and block == "packs":
            _listed(found, name, row, value, system)
        elif (block, name, row) in target.entry_at:
            item = job.block(block).field(name)
            found[block, name, row] = converted(block, item, value, goes_by, old, job)
    if book == "shop":
        rows = {row for block, _, row in found if block == "prices"}
        found |= {("prices", "from", row): day for row in rows}
    if system in _CURRENCY:
        found["money", "currency", 0] = _CURRENCY[system]
    return found


def _listed(found: Entries, name: str, row: int, value: Value, system: str) -> None:
    """Put a pack on the price list of a shop; contents are a number there."""
    if name == "contents":
        found["prices", name, row] = _number(str(value), system)
    else:
        found["prices", name, row] = value


def _number(contents: str, system: str) -> float:
    volume = reading.one_of(contents, "volume", SYSTEMS[system].volume, SYSTEMS[system].fluids)[0]
    return float(f"{units.express(volume, SYSTEMS[system].volume):.6g}")


def _file() -> Path:
    return resources.folder("shared") / "starter" / "starter.toml"
