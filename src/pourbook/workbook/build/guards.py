"""What guards the sheets of a book as Pourbook makes it: limits of entries, and marks of faults.

Contract: :func:`guards` says which rules stand on which cells, as the builder puts them there, for
the check to hold a workbook against. It is worked out once and kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

from pourbook.compiled import kept
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.drawings import Charted, charted
from pourbook.workbook.read.sheet_look import EntryLimit
from pourbook.workbook.template import released

if TYPE_CHECKING:
    from openpyxl.worksheet.datavalidation import DataValidation

Rule = tuple[str, str]
"""Areas, and the formula that is true where it marks."""


@dataclass(frozen=True)
class SheetGuards:
    """Rules of a sheet that mark, those that withhold figures, its limits, what charts show."""

    marks: frozenset[Rule] = frozenset()
    withhold: frozenset[Rule] = frozenset()
    limits: frozenset[EntryLimit] = frozenset()
    charted: frozenset[Charted] = frozenset()


def guards(plan: Layout) -> Mapping[str, SheetGuards]:
    """Return what guards each sheet of a book of the template folder."""
    return _guards(plan.book.book, plan.system.name, plan.pieces, plan.version)


@lru_cache(maxsize=16)
def _guards(book: str, system: str, pieces: int, version: str) -> dict[str, SheetGuards]:
    def made() -> dict[str, SheetGuards]:
        from openpyxl import Workbook  # noqa: PLC0415 - 0.2 s, wanted once
        from openpyxl.xml.functions import tostring  # noqa: PLC0415 - the same

        from pourbook.workbook.build import charts, validation, wrong_cells  # noqa: PLC0415 - the same

        plan, found = lay_out(book, system, pieces, version), {}
        for sheet in plan.book.sheets:
            page = Workbook().create_sheet()
            validation.add(plan, sheet, page)
            wrong_cells.add(plan, sheet, page)
            marks: set[Rule] = set()
            withhold: set[Rule] = set()
            for areas in page.conditional_formatting:
                for rule in areas.rules:
                    kind = withhold if rule.dxf.numFmt else marks
                    kind.add((str(areas.sqref), rule.formula[0]))
            if version == released.CURRENT:  # the charts of others are known no more
                charts.add(plan, sheet, page)
            limits = {_limit(rule) for rule in page.data_validations.dataValidation}
            shown = [charted(tostring(one._write())) for one in page._charts]
            found[sheet.sheet] = SheetGuards(
                frozenset(marks), frozenset(withhold), frozenset(limits), frozenset().union(*shown)
            )
        return found

    return kept(f"guards {book} {system} {pieces} {version}", made)


def _limit(rule: DataValidation) -> EntryLimit:
    stops = bool(rule.showErrorMessage) and (rule.errorStyle or "stop") == "stop"
    told = (rule.formula1, rule.formula2)
    return EntryLimit.of(str(rule.sqref), rule.type or "none", rule.operator, told, stops)
