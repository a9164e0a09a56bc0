"""What guards the sheets of a book as Pourbook makes it: limits of entries, and marks of faults.

Contract: :func:`guards` says which rules stand on which cells, as the builder puts them there, for
the check to hold a workbook against. It is worked out once and kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from pourbook.compiled import kept
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

Rule = tuple[str, str]
"""Areas, and the formula that is true where it marks."""


@dataclass(frozen=True)
class SheetGuards:
    """The rules of one sheet: those that mark, those that withhold figures, areas with limits."""

    marks: frozenset[Rule] = frozenset()
    withhold: frozenset[Rule] = frozenset()
    limited: frozenset[str] = frozenset()


def guards(plan: Layout) -> Mapping[str, SheetGuards]:
    """Return what guards each sheet of a book of the template folder."""
    return _guards(plan.book.book, plan.system.name, plan.pieces, plan.version)


@lru_cache(maxsize=16)
def _guards(book: str, system: str, pieces: int, version: str) -> dict[str, SheetGuards]:
    def made() -> dict[str, SheetGuards]:
        from openpyxl import Workbook  # noqa: PLC0415 - 0.2 s, wanted once

        from pourbook.workbook.build import validation, wrong_cells  # noqa: PLC0415 - the same

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
            limited = {str(rule.sqref) for rule in page.data_validations.dataValidation}
            found[sheet.sheet] = SheetGuards(
                frozenset(marks), frozenset(withhold), frozenset(limited)
            )
        return found

    return kept(f"guards {book} {system} {pieces} {version}", made)
