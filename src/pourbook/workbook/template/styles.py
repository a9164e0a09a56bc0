"""The looks of a workbook: named cell styles and the colours they use.

Contract: Excel's own style names are kept, so a person's own theme and habits work; colours whose
contrast falls below 4.5:1 (WCAG 2.1, success criterion 1.4.3) are replaced by readable ones, and a
test computes every ratio. Colour is never the only signal.
"""

from __future__ import annotations

from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side

from pourbook.formats.ooxml.palette import WHITE
from pourbook.records import dataclass

FONT = "Calibri"
PHASES = {
    "ask": "C8553D",
    "measure": "6D597A",
    "plan": "3D5A80",
    "buy": "588157",
    "sell": "F2B134",
    "do": "B56576",
    "settle": "1B3A4B",
    "look up": "9E9E9E",
}
"""The phases of a job in their order, and the colour of the tabs of each."""


@dataclass(frozen=True)
class CellLook:
    """What one named style looks like."""

    name: str
    ink: str
    paper: str = WHITE
    bold: bool = False
    italic: bool = False
    size: float = 10
    border: bool = False
    unlocked: bool = False
    builtin: int | None = None
    underline: bool = False
    marked: bool = False
    """Whether a heavy line at its left marks it, whatever colours a screen or a printer has."""


LOOKS = (
    CellLook("Title", "1F2A33", bold=True, size=16, builtin=15),
    CellLook("Heading 3", "1F2A33", bold=True, size=12, builtin=18),
    CellLook("Explanatory Text", "4A4A4A", italic=True, builtin=53),
    CellLook("Note", "3A3300", "FFF9E0", builtin=10),
    CellLook("Input", "1A237E", "FFF4D6", border=True, unlocked=True, builtin=20),
    CellLook("Needed", "1A237E", "FFE08A", border=True, unlocked=True, marked=True),
    CellLook("Calculation", "000000", "F2F2F2", border=True, builtin=22),
    CellLook("Output", "000000", "E3EBF2", bold=True, border=True, builtin=21),
    CellLook("Check Cell", "000000", "FFFFFF", bold=True, border=True, builtin=23),
    CellLook("Hyperlink", "0B4F9C", underline=True, builtin=8),
    CellLook("Header", "FFFFFF", "37474F", bold=True, border=True),
    CellLook("Unit", "4A4A4A", italic=True, border=True),
    CellLook("Label", "000000"),
    CellLook("Card Title", "000000", bold=True, size=18),
    CellLook("Card Amount", "000000", bold=True, size=14),
    CellLook("Card", "000000", size=12),
    CellLook("Card Small", "000000"),
    CellLook("Open", "000000", unlocked=True),
)

ROLE_STYLE = {
    "title": "Title",
    "purpose": "Explanatory Text",
    "heading": "Heading 3",
    "note": "Explanatory Text",
    "help": "Explanatory Text",
    "header": "Header",
    "unit": "Unit",
    "label": "Label",
    "entry": "Input",
    "kept": "Calculation",
    "formula": "Calculation",
    "fill": "Calculation",
    "fixed": "Calculation",
    "check": "Check Cell",
    "link": "Hyperlink",
    "text": "Label",
    "blank": "Card",
}

ALARM_INK, ALARM_PAPER = "7A0000", "FDE0DD"
OWN_INK = "7A2E00"
"""Of an entry that differs from what its sheet offers; it is bold and slanted besides."""


def named_styles() -> list[NamedStyle]:
    """Return fresh named styles for one workbook."""
    return [_style(look) for look in LOOKS]


def _style(look: CellLook) -> NamedStyle:
    thin = Side(style="thin", color="9E9E9E")
    style = NamedStyle(name=look.name, builtinId=look.builtin)
    style.font = Font(
        name=FONT,
        size=look.size,
        bold=look.bold,
        italic=look.italic,
        color=look.ink,
        underline="single" if look.underline else None,
    )
    if look.paper != WHITE:
        style.fill = PatternFill("solid", fgColor=look.paper)
    if look.border:
        left = Side(style="medium", color="7A5200") if look.marked else thin
        style.border = Border(left=left, right=thin, top=thin, bottom=thin)
    style.alignment = Alignment(vertical="center")
    style.protection = Protection(locked=not look.unlocked)
    return style
