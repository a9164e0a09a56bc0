"""What lies over the cells of a sheet, by the cells it covers."""

from __future__ import annotations

import pytest
from lxml import etree

from pourbook.workbook.read.drawings import Overlay, overlays
from pourbook.workbook.read.sheet_look import Sizes, sheet_look

DRAWN = "http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PLAIN = Sizes()
POINT, ROW = 12_700, 15 * 12_700
COLUMN = (9 * 7 + 5) * 9_525
"""One point, one plain row and one plain column, in the units of drawings."""
SHAPE = '<sp><nvSpPr><cNvPr id="2" name="one"/></nvSpPr></sp>'


def _spot(name: str, column: int, row: int, over: int = 0, under: int = 0) -> str:
    return (
        f"<{name}><col>{column}</col><colOff>{over}</colOff>"
        f"<row>{row}</row><rowOff>{under}</rowOff></{name}>"
    )


def _found(anchors: str, sizes: Sizes = PLAIN) -> tuple[Overlay, ...]:
    link = f'<Relationship Id="r" Type="{OFFICE}/drawing" Target="../drawings/drawing1.xml"/>'
    space = "http://schemas.openxmlformats.org/package/2006/relationships"
    parts = {
        "xl/worksheets/sheet1.xml": b"",
        "xl/worksheets/_rels/sheet1.xml.rels": (
            f'<Relationships xmlns="{space}">{link}</Relationships>'
        ).encode(),
        "xl/drawings/drawing1.xml": f'<wsDr xmlns="{DRAWN}">{anchors}</wsDr>'.encode(),
    }
    return overlays(parts, "xl/worksheets/sheet1.xml", sizes, "job.xlsx")


def test_from_one_cell_to_another() -> None:
    """The second corner at the very edge of a cell does not cover it."""
    whole = f"{_spot('from', 1, 4)}{_spot('to', 3, 6)}{SHAPE}"
    part = f"{_spot('from', 1, 4)}{_spot('to', 3, 6, 5, 5)}{SHAPE}"
    (one, other) = _found(
        f"<twoCellAnchor>{whole}</twoCellAnchor><twoCellAnchor>{part}</twoCellAnchor>"
    )
    assert (one.top, one.left, one.bottom, one.right) == (5, 2, 6, 3)
    assert (other.top, other.left, other.bottom, other.right) == (5, 2, 7, 4)


@pytest.mark.parametrize(
    ("wide", "high", "right", "bottom"),
    [
        (COLUMN, ROW, 2, 5),
        (COLUMN + 1, ROW + 1, 3, 6),
        (COLUMN * 3, ROW * 10, 4, 14),
        (1, 1, 2, 5),
    ],
)
def test_from_one_cell_on(wide: int, high: int, right: int, bottom: int) -> None:
    size = f'<ext cx="{wide}" cy="{high}"/>'
    (found,) = _found(f"<oneCellAnchor>{_spot('from', 1, 4)}{size}{SHAPE}</oneCellAnchor>")
    assert (found.top, found.left, found.bottom, found.right) == (5, 2, bottom, right)


def test_rows_and_columns_of_their_own_size_count() -> None:
    """Row 2 is ten times as high, columns 2 to 4 are narrow."""
    sizes = Sizes(widths=((2, 4, 1.0),), heights=((2, 150.0),))
    size = f'<ext cx="{3 * 12 * 9_525 + 1}" cy="{160 * POINT}"/>'
    (found,) = _found(f"<oneCellAnchor>{_spot('from', 1, 1)}{size}{SHAPE}</oneCellAnchor>", sizes)
    assert (found.bottom, found.right) == (3, 5)


def test_a_place_on_the_paper() -> None:
    place, size = f'<pos x="{COLUMN * 2}" y="{ROW * 3}"/>', f'<ext cx="{COLUMN}" cy="{ROW}"/>'
    (found,) = _found(f"<absoluteAnchor>{place}{size}{SHAPE}</absoluteAnchor>")
    assert (found.top, found.left) == (1, 1)  # all it may cover from the first cell on
    assert (found.bottom, found.right) == (4, 3)


def test_what_is_hidden_covers_nothing() -> None:
    hidden = SHAPE.replace("name=", 'hidden="1" name=')
    place = f"{_spot('from', 0, 0)}{_spot('to', 3, 3)}"
    assert _found(f"<twoCellAnchor>{place}{hidden}</twoCellAnchor>") == ()


def test_a_shape_that_only_newer_programs_show_covers_too() -> None:
    space = "http://schemas.openxmlformats.org/markup-compatibility/2006"
    choice = f'<m:AlternateContent xmlns:m="{space}"><m:Choice>{SHAPE}</m:Choice>'
    place = f"{_spot('from', 0, 0)}{_spot('to', 3, 3)}"
    inner = f"{place}{choice}</m:AlternateContent>"
    assert len(_found(f"<twoCellAnchor>{inner}</twoCellAnchor>")) == 1


BUTTON = """<x:ClientData ObjectType="{}">{}<x:Anchor>1, 2, 4, 0, 3, 0, 6, 0</x:Anchor>
</x:ClientData>"""


@pytest.mark.parametrize(
    ("kind", "more", "many"),
    [("Note", "", 0), ("Note", "<x:Visible/>", 1), ("Button", "", 1), ("Rect", "", 1)],
)
def test_drawings_of_old(kind: str, more: str, many: int) -> None:
    link = f'<Relationship Id="r" Type="{OFFICE}/vmlDrawing" Target="../drawings/v.vml"/>'
    space = "http://schemas.openxmlformats.org/package/2006/relationships"
    parts = {
        "xl/worksheets/_rels/sheet1.xml.rels": (
            f'<Relationships xmlns="{space}">{link}</Relationships>'
        ).encode(),
        "xl/drawings/v.vml": BUTTON.format(kind, more).encode(),
    }
    found = overlays(parts, "xl/worksheets/sheet1.xml", PLAIN, "job.xlsx")
    assert [(one.top, one.left, one.bottom, one.right) for one in found] == [(5, 2, 7, 4)] * many


ODD = ("", "x", "-1", "1e308", "inf", "nan", "999999999", "9" * 400, "0")


@pytest.mark.parametrize("odd", ODD)
def test_numbers_no_program_writes_end_nothing(odd: str) -> None:
    sheet = (
        f'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        f'<sheetFormatPr defaultRowHeight="{odd}" defaultColWidth="{odd}"/><cols>'
        f'<col min="1" max="3" width="{odd}"/><col min="{odd}" max="{odd}" width="9"/></cols>'
        f'<sheetData><row r="1" ht="{odd}"/><row r="{odd}" ht="15"/></sheetData>'
        f'<pageSetup scale="{odd}"/></worksheet>'
    )
    sizes = sheet_look(etree.fromstring(sheet)).sizes
    spot = f"<from><col>{odd}</col><colOff>{odd}</colOff><row>{odd}</row></from>"
    size = f'<ext cx="{odd}" cy="{odd}"/>'
    found = _found(
        f"<oneCellAnchor>{spot}{size}{SHAPE}</oneCellAnchor>"
        f'<absoluteAnchor><pos x="{odd}" y="{odd}"/>{size}{SHAPE}</absoluteAnchor>'
        f"<twoCellAnchor>{spot}{spot.replace('from', 'to')}{SHAPE}</twoCellAnchor>",
        sizes,
    )
    assert len(found) == 3
    assert all(one.top > 0 and one.left > 0 for one in found)
