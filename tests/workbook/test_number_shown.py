"""What a number format makes of a value, by hand and as LibreOffice shows it."""

from __future__ import annotations

import random
import re
from pathlib import Path

import openpyxl
import pytest
from tests.office import saved_by_office

from pourbook.workbook.check.number_shown import hides, inks

ACCOUNTS = '_-* #,##0.00_-;-* #,##0.00_-;_-* "-"??_-;_-@_-'
TRUE = [
    ("#,##0.00;[Red]-#,##0.00", -5.0, "#,##0.00"),
    ("#,##0.00;(#,##0.00)", -5.0, "#,##0.00"),
    ('0" USD"', 5.0, "0"),
    ('"a;b"0', 5.0, "0"),
    ("#,##0", 5.0e6, "0.00"),
    ("#,##0", 6770.13, "#,##0.00"),
    ("0.000000", 0.0004, "0.00"),
    ("0.00E+00", 6770.13, "0.00"),
    ("# ??/16", 1.3125, "0.00"),
    ("?/8", 0.375, "0.00"),
    ("# ?/?", 0.5, "0.00"),
    ("0.00%", 0.2, "0.0%"),
    ("[<=1]0%;0", 0.2, "0.0%"),
    ("General", 52.0, "0.0%"),
    ("General", 0.0, "0.0%"),
    ("0", 0.0, "yyyy-mm-dd"),
    ("[>=100]0;[<100]0.0", 12.5, "0.00"),
    ("[Red][<0]-0.00;[Blue]0.00", -5.0, "0.00"),
    ("@", "words", "@"),
    ("@", 5.0, "0.00"),
    ("General", 5.0, "0.00"),
    ("mm/dd/yy", 46000.0, "yyyy-mm-dd"),
    ("[$-F800]dddd, mmmm dd, yyyy", 46000.0, "yyyy-mm-dd"),
    ("m/d/yy h:mm AM/PM", 46000.5, "ddd d mmm hh:mm"),
    ("#,##0.00\\ [$€-407];[RED]-#,##0.00\\ [$€-407]", -3.0, "0.00"),
    ("$#,##0.00_);[Red]($#,##0.00)", -3.0, "0.00"),
    *((ACCOUNTS, value, "0.00") for value in (3.0, -3.0, 0.0, "words")),
    ("[DBNum1]0.00", 5.0, "0.00"),
    ("yyyy-mm-dd", 5.0, "General"),
    (";;;", True, "0"),
]
FALSE = [
    ("#,##0.00;", -5.0, "#,##0.00"),
    ("0;0;", 0.0, "0"),
    ("#", 0.0, "0"),
    ('[Red]"bad"', 5.0, "0"),
    ("0.00,,", 5.0e6, "0.00"),
    ("0,.00", 5.0e6, "0.00"),
    (";;;", "words", "@"),
    ('0;0;0;"no"', "words", "@"),
    ('0;0;0;"no"0', "words", "@"),
    ('"OK "@', "CHECK", "General"),
    ("@@", "1", "@"),
    ("\\7\\7", 5.0, "0"),
    ('[<0]0;"12"', 5.0, "0.00"),
    ('[>=1]General;"1"', 0.5, "0.00"),
    ("0*9", 5.0, "0.00"),
    ("[$9]0", 5.0, "0.00"),
    ("-0", 5.0, "0.00"),
    ("(0)", 5.0, "0.00"),
    ("0;0", -5.0, "0.00"),
    ("[<0]0;0", -5.0, "0.00"),
    ("10", 5.0, "0.00"),
    ("\\9 0", 5.0, "0.00"),
    ('0".50"', 5.0, "0.00"),
    ('0"."00', 512.0, "0"),
    ("000-000", 5.0, "0"),
    ('0"%"', 0.2, "0.0%"),
    ("0%%", 0.2, "0.0%"),
    ("0%", 2.0, "0"),
    ("0", 0.2, "0.0%"),
    ("0.00", 0.07, "0.0%"),
    ("General", 0.07, "0.0%"),
    ("@", 0.07, "0.0%"),
    ('General" x"', 0.07, "0.0%"),
    ("General", 46000.0, "yyyy-mm-dd"),
    ("@", 46000.5, "yyyy-mm-dd hh:mm"),
    ("#,##0", 46000.0, "yyyy-mm-dd"),
    ("0.00", 46000.0, "yyyy-mm-dd"),
    ("0", 0.35, "0.00"),
    ("0", 12.5, "0.00"),
    ("0E+00", 6770.13, "0.00"),
    ("# ?/2", 0.2, "0.00"),
    ('# ??/16"0"', 1.3125, "0.00"),
    ("yyyy", 46000.0, "yyyy-mm-dd"),
    ("yyyy-mm-dd", 5.0, "0"),
    ("[h]:mm", 46000.0, "yyyy-mm-dd"),
    ("ggge.m.d", 46000.0, "yyyy-mm-dd"),
    ("[$-D07041E]d mmm yyyy", 46000.0, "yyyy-mm-dd"),
    ("[~buddhist]d mmm yyyy", 46000.0, "yyyy-mm-dd"),
    ("[h]", 5.0, "0.00"),
    ("0.0.0", 5.0, "0.0"),
    ("[nobody knows]0", 5.0, "0"),
    ('0"', 5.0, "0"),
    ("", 5.0, "0"),
]


@pytest.mark.parametrize(("code", "value", "planned"), TRUE)
def test_what_shows_a_value_is_not_told(code: str, value: float | str, planned: str) -> None:
    assert hides(code, value, planned) is False


@pytest.mark.parametrize(("code", "value", "planned"), FALSE)
def test_what_shows_another_value_is_told(code: str, value: float | str, planned: str) -> None:
    assert hides(code, value, planned) is True


@pytest.mark.parametrize(
    ("code", "unit", "expected"),
    [
        ('0.0" L"', "gal", True),
        ('0.0" gal"', "gal", False),
        ('0.0" US gal"', "US gal", False),
        ('0" ft"', "ft²", True),
        ("0.0\\ \\k\\g", "lb", True),
        ('0.0" °F"', "°C", True),
        ('0" pcs"', "gal", False),
        ('0" L"', "", False),
    ],
)
def test_a_unit_beside_the_number_is_the_one_of_its_label(
    code: str, unit: str, expected: bool
) -> None:
    assert hides(code, 5.0, "0.0", unit) is expected


def test_the_colours_a_format_gives() -> None:
    assert inks('[White]0.00;[Color 12]-0.00;"[Red]"') == ("FFFFFF", "12")


PIECES = ("0", "#", "?", ".", ",", "0.00", "%", "0", "#,##0", "E+00", "/", "?/?", "-", "+", " ",
          "$", '"x"', '"7"', '" pcs"', "\\3", "(", ")", "_)", "* ", "*9", "[Red]", "[<5]", "[>=5]",
          "[$€-407]", "[$8]", "General", "@", '"-"', ";", ";", "1", ":", "'")  # fmt: skip
VALUES = (0.0, 0.2, 3.0, 12.5, 512.0, 6770.13, -5.0, -12.5)


def _number(said: str) -> float | None:
    """Return the number a person reads in a text; nothing where there is not just one."""
    text = said.replace("\xa0", " ").replace(",", "")
    minus = "-" in text.partition("E")[0] or "(" in text
    power = re.fullmatch(r"\D*(\d+(?:\.\d*)?)E([+-]\d+)\D*", text)
    parts = re.fullmatch(r"\D*?(?:(\d+) +)?(\d+) */ *(\d+)\D*", text)
    plain = re.fullmatch(r"[^\d.]*(\d+\.?\d*|\.\d+)[^\d.]*", text)
    if power:
        found = float(f"{power[1]}e{power[2]}")
    elif parts and int(parts[3]):
        found = float(parts[1] or 0) + int(parts[2]) / int(parts[3])
    elif plain:
        found = float(plain[1]) / (100 if text.count("%") == 1 else 1)
    elif text.strip(" €$") == "-":
        return 0.0
    else:
        return None
    return -found if minus else found


@pytest.mark.long
@pytest.mark.libreoffice
def test_no_format_that_is_not_told_shows_another_number_in_libreoffice(tmp_path: Path) -> None:
    """2,000 formats put together at random: LibreOffice's TEXT shows what each makes of a value."""
    drawn = random.Random(20261130)
    cases = [
        ("".join(drawn.choices(PIECES, k=drawn.randint(1, 5))), drawn.choice(VALUES))
        for _ in range(2_000)
    ]
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    for row, (code, value) in enumerate(cases, 1):
        page.cell(row, 1, value)
        page.cell(row, 2, code).data_type = "s"
        page.cell(row, 3, f"=TEXT(A{row},B{row})")
    book.save(tmp_path / "formats.xlsx")
    saved = saved_by_office(tmp_path / "formats.xlsx", tmp_path)
    shown = openpyxl.load_workbook(saved, data_only=True).worksheets[0]
    texts = [str(shown.cell(row, 3).value) for row in range(1, len(cases) + 1)]
    calm = [
        (code, value, text)
        for (code, value), text in zip(cases, texts, strict=True)
        if not hides(code, value, "0.00") and not text.startswith("#")
    ]
    wrong = [
        case
        for case in calm
        if (found := _number(case[2])) is None
        or abs(found - case[1]) > max(0.021 * abs(case[1]), 0.0051)
    ]
    assert len(calm) > 100
    assert not wrong, "\n".join(map(str, wrong))
