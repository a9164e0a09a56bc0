"""The cells of every kind of block: forms, tables, lines, checks, texts and lists.

Contract: :func:`block_cells` yields the cells of one block in reading order, formulas still in the
words of the template; :mod:`pourbook.workbook.layout.lay_out` gives them their A1 form.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pourbook.formats.ooxml.addresses import a1
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout, Place, PlannedCell
from pourbook.workbook.template import released
from pourbook.workbook.template.guests import within_id
from pourbook.workbook.template.template import Block, Book, Field, Sheet

MAP_ACROSS = 3
"""Columns of the list of sheets: all of it is seen without scrolling."""


@dataclass(frozen=True)
class _Spot:
    """A block on its sheet, and a maker of its cells."""

    plan: Layout
    sheet: Sheet
    block: Block
    place: Place

    def cell(self, row: int, column: int, role: str, **more: object) -> PlannedCell:
        name = self.block.id
        return PlannedCell.at(self.sheet.sheet, row, column, role, block=name, **more)

    def heads(self, *words: str) -> Iterator[PlannedCell]:
        for column, word in enumerate(words, start=1):
            yield self.cell(self.place.first - 1, column, "header", value=word)


def block_cells(plan: Layout, sheet: Sheet, block: Block) -> Iterator[PlannedCell]:
    """Return the cells of a block, without its title and note."""
    maker = _MAKERS.get(block.kind)
    if maker is not None:
        yield from maker(_Spot(plan, sheet, block, plan.places[block.id]))


def _form(spot: _Spot) -> Iterator[PlannedCell]:
    for item in spot.block.columns:
        row, left = spot.place.rows[item.id], spot.place.left
        yield spot.cell(row, left, "label", value=spot.plan.text(item.header), field=item)
        yield _content(spot.plan, spot.cell(row, left + 1, "", field=item), item)
        yield from _unit_cell(spot.plan, spot.cell(row, left + 2, "unit", field=item), item)
        if item.help:
            yield spot.cell(row, left + 3, "help", value=spot.plan.text(item.help), field=item)


def _lines(spot: _Spot) -> Iterator[PlannedCell]:
    instances = spot.block.instances
    first = spot.place.left + 1
    last = first + len(instances)
    for number, instance in enumerate(instances):
        yield spot.cell(
            spot.place.first - 1, first + number, "header", value=instance, index=number
        )
    yield spot.cell(spot.place.first - 1, last, "header", value="Unit")
    for item in spot.block.columns:
        row, left = spot.place.rows[item.id], spot.place.left
        yield spot.cell(row, left, "label", value=spot.plan.text(item.header), field=item)
        for number in range(len(instances)):
            cell = spot.cell(row, first + number, "", field=item, index=number)
            yield _content(spot.plan, cell, item)
        yield from _unit_cell(spot.plan, spot.cell(row, last, "unit", field=item), item)


def _checks(spot: _Spot) -> Iterator[PlannedCell]:
    fix = "How to mend" if spot.plan.version == "1" else "How to fix"
    yield from spot.heads("Check", "Result", "Look at", fix)
    for index, check in enumerate(spot.block.checks):
        row = spot.place.first + index
        named = f'IF(IFERROR({check.formula},FALSE),"OK","CHECK")'
        yield spot.cell(row, 1, "label", value=spot.plan.text(check.label), index=index)
        yield spot.cell(row, 2, "check", named=named, index=index)
        yield spot.cell(row, 3, "link", value=check.sheet, link=check.sheet, index=index)
        yield spot.cell(row, 4, "help", value=spot.plan.text(check.mend), index=index)


def map_rows(book: Book) -> int:
    """Return how many rows the list of the other sheets takes; in templates 1 each has its own."""
    return -(-(len(book.sheets) - 1) // (MAP_ACROSS if _says_next(book) else 1))


def _says_next(book: Book) -> bool:
    block, _, _ = book.overall.partition(".")
    return any(item.id == "next" for item in book.block(block).columns)


def _map(spot: _Spot) -> Iterator[PlannedCell]:
    """The other sheets column by column, each with what its checks say beside it."""
    sheets = spot.plan.book.sheets
    if not _says_next(spot.plan.book):
        yield from _list_of_sheets(spot)
        return
    looked_at = {c.sheet for b in spot.plan.book.blocks.values() for c in b.checks}
    first = "{" + spot.plan.book.overall.partition(".")[0] + ".next}"
    for index, other in enumerate(sheets[1:]):
        across, down = divmod(index, map_rows(spot.plan.book))
        row, column = spot.place.first + down, 1 + 2 * across
        yield spot.cell(row, column, "link", value=other.sheet, link=other.sheet, index=index)
        if other.sheet in looked_at:
            holds = "{checks.on." + other.sheet + "}"
            named = (
                f'IF({holds},"ok",IF(COUNTIF({first},"{other.sheet}")=1,"do this next","waits"))'
            )
            yield spot.cell(row, column + 1, "formula", named=named, index=index, style="Label")


def _list_of_sheets(spot: _Spot) -> Iterator[PlannedCell]:
    """The other sheets one below the other, each with its purpose."""
    spans = max(1, len(spot.sheet.widths) - 1)
    for index, other in enumerate(spot.plan.book.sheets[1:]):
        row = spot.place.first + index
        purpose = spot.plan.text(other.purpose)
        yield spot.cell(row, 1, "link", value=other.sheet, link=other.sheet, index=index)
        yield spot.cell(row, 2, "text", value=purpose, index=index, spans=spans)


def _functions(spot: _Spot) -> Iterator[PlannedCell]:
    yield from spot.heads("Function", "Arguments", "Gives", "For example")
    for index, function in enumerate(released.listed_functions(spot.plan.version)):
        for column, words in enumerate(function, start=1):
            yield spot.cell(spot.place.first + index, column, "text", value=words, index=index)


def _text(spot: _Spot) -> Iterator[PlannedCell]:
    for index, line in enumerate(spot.block.text):
        named = line[1:] if line.startswith("=") else ""
        value = None if named else spot.plan.text(line)
        cell = spot.cell(spot.place.first + index, 1, "text", value=value, named=named, index=index)
        yield cell.but(style=spot.block.style, spans=spot.sheet.wide)


def _table(spot: _Spot) -> Iterator[PlannedCell]:
    plan, block, place, fill = spot.plan, spot.block, spot.place, spot.block.fill
    for item in block.all_fields():
        column = place.columns[item.id]
        head = spot.cell(place.first - 2, column, "header", field=item)
        yield head.but(value=plan.text(item.header))
        yield from _unit_cell(plan, spot.cell(place.first - 1, column, "unit", field=item), item)
    for index in range(block.rows):
        row = place.first + index
        for item in block.columns:
            cell = spot.cell(row, place.columns[item.id], "", field=item, index=index)
            yield _content(plan, cell, item)
        for item in fill.columns if fill else ():
            cell = spot.cell(row, place.columns[item.id], "fill", field=item, index=index)
            if fill is not None and fill.within:
                aside = "{" + f"{fill.within}.{within_id(block.id, item.id)}.@" + "}"
                yield cell.but(fill=block.id, named=f'IF({aside}="","",{aside})')
                continue
            lead = index == 0 and fill is not None and item is fill.columns[0]
            named, array = array_of(block, place) if lead else ("", "")
            yield cell.but(fill=block.id, named=named, array=array)


def array_of(block: Block, place: Place) -> tuple[str, str]:
    """Return the formula and the range of the one array formula of a table.

    The formula is in the words of the template; both are empty where the table has none of its own.
    """
    fill = block.fill
    if fill is None or fill.within:
        return "", ""
    start, end = place.columns[fill.columns[0].id], place.columns[fill.columns[-1].id]
    named = f"{fill.function}({','.join(fill.arguments)})"
    return named, f"{a1(place.first, start)}:{a1(place.last, end)}"


def _content(result: Layout, cell: PlannedCell, item: Field) -> PlannedCell:
    """Give a value cell its role: entry, kept, formula, running number or fixed text."""
    if item.kind == "formula":
        return cell.but(role="formula", named=item.formula)
    if item.kind == "index":
        return cell.but(role="fixed", value=cell.index + 1)
    if item.kind == "fixed":
        fixed = item.default
        value = result.text(fixed) if isinstance(fixed, str) else fixed
        return cell.but(role="fixed", value=value)
    return cell.but(role="kept" if item.kept else "entry")


def _unit_cell(result: Layout, cell: PlannedCell, item: Field) -> Iterator[PlannedCell]:
    unit = result.unit(item.unit)
    if not unit:
        return
    if "@money" not in unit:
        yield cell.but(value=unit)
        return
    before, _, after = unit.partition("@money")
    parts = [f'"{before}"'] if before else []
    parts.append("{" + result.book.currency + "}")
    if after:
        parts.append(f'"{after}"')
    yield cell.but(named="&".join(parts), role="unit")


def card_spots(block: Block, first: int) -> dict[str, tuple[int, int]]:
    """Return row and column of every field of the first card, whose top row is ``first``."""
    spots: dict[str, tuple[int, int]] = {}
    row, column = first - 1, 1
    for item in block.columns:
        if not item.beside:
            row, column = row + 1, 1
        column += 1 if item.kind == "blank" else 0  # its label stands before it
        spots[item.id] = (row, column)
        column += item.spans
    return spots


def _cards(spot: _Spot) -> Iterator[PlannedCell]:
    plan, block, place = spot.plan, spot.block, spot.place
    for index in range(block.rows):
        for item in block.columns:
            row, column = place.spots[item.id]
            row += index * place.step
            more = {"field": item, "index": index, "style": item.style}
            said = item.default if isinstance(item.default, str) else item.header
            words = plan.unit(plan.text(said)).replace('"', '""')
            used = [f'{block.when}="ok"']
            used += [f'{block.needs}="ok"'] if block.needs else []
            used += [f'{item.when}<>""'] if item.when else []
            label = f'IFERROR(IF(AND({",".join(used)}),"{words}",""),"")'
            if item.kind == "blank":
                where = spot.cell(row, column - 1, "text", field=item, index=index, named=label)
                yield where.but(style="Card Small")
                yield spot.cell(row, column, "blank", **more, spans=item.spans)
            else:
                named = item.formula if item.kind == "formula" else label
                yield spot.cell(row, column, "text", **more, named=named, spans=item.spans)


_MAKERS: dict[str, Callable[[_Spot], Iterator[PlannedCell]]] = {
    "form": _form,
    "lines": _lines,
    "checks": _checks,
    "map": _map,
    "functions": _functions,
    "text": _text,
    "table": _table,
    "cards": _cards,
}
