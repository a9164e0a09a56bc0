"""What a scanner types: forms, public examples, broken codes, and a general library beside it."""

from __future__ import annotations

from datetime import date

import pytest
from biip.gs1_application_identifiers import GS1ApplicationIdentifier
from biip.gs1_element_strings import GS1ElementString
from biip.gs1_messages import GS1Message
from biip.gtin import Gtin
from hypothesis import example, given
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.formats import gs1
from pourbook.formats.gs1 import GS, Scan, check_digit, full_date, read_scan

TODAY = date(2026, 11, 25)
MARKS = "-./+_:"
lots = st.text("ABCDEFGHXYZabz0123456789" + MARKS, min_size=1, max_size=20)
gtins = st.text("0123456789", min_size=13, max_size=13).map(lambda d: d + str(check_digit(d)))
days = st.dates(date(2000, 1, 1), date(2060, 12, 31))


@pytest.mark.parametrize(
    ("text", "scan"),
    [
        # rapidapi.com/alex-datawise/api/gs1parser, the bracket form; read
        (
            "(01)09501101530003(17)140704(10)AB-123",
            Scan("AB-123", "09501101530003", date(2014, 7, 4)),
        ),
        # docs.strich.io/reading-gs1-data.html, the whole code; read. Its table prints the lot with
        # the 10 still before it.
        (
            f"]d20108806388269617112302141728021310230214A3263-01{GS}21059{GS}240ARO4808C",
            Scan(
                "230214A3263-01",
                "08806388269617",
                date(2028, 2, 13),
                (("11", "230214"), ("21", "059"), ("240", "ARO4808C")),
            ),
        ),
        # pkg.go.dev/github.com/galenzo17/gs1-go: gtin, lot and serial as the page gives them; read
        (
            "]d20104150000021126172506302112345ABC\x1d10LOT42X",
            Scan("LOT42X", "04150000021126", date(2025, 6, 30), (("21", "12345ABC"),)),
        ),
        # github.com/jodal/biip/issues/113: bracket form; read. Day 00 of February 2016.
        (
            "(01)10366302300017(10)2100437(17)160200(21)925768618163",
            Scan("2100437", "10366302300017", date(2016, 2, 29), (("21", "925768618163"),)),
        ),
    ],
)
def test_public_examples_of_scanned_codes_are_read(text: str, scan: Scan) -> None:
    assert read_scan(text, TODAY) == scan


def test_a_public_example_with_a_digit_too_many_is_refused() -> None:
    # rapidapi.com/alex-datawise/api/gs1parser, the raw form as printed, 17 with seven digits; read
    with pytest.raises(InputError, match=r"\(410\) must have 13 digits"):
        read_scan("]C1010950110153000317114070410AB-123", TODAY)


def test_a_code_whose_separators_were_dropped_is_refused() -> None:
    # github.com/jodal/biip/issues/113, the raw form a decoder sent without its separators; read
    with pytest.raises(InputError, match="separator"):
        read_scan("01103663023000171021004371716020021925768618163", TODAY)


@pytest.mark.parametrize("prefix", ["", "]C1", "]e0", "]d2", "]Q3", "]J1"])
@pytest.mark.parametrize("end", ["", "\r\n", GS])
def test_every_way_a_scanner_hands_a_code_over_is_read(prefix: str, end: str) -> None:
    text = f"{prefix}01095011015300031727040010AB-123{GS}2112{end}"
    assert read_scan(text, TODAY) == Scan(
        "AB-123", "09501101530003", date(2027, 4, 30), (("21", "12"),)
    )


@given(gtins, days, lots)
@example("09501101530003", date(2027, 4, 30), "10")
def test_any_order_and_form_reads_the_same_and_as_a_general_library_does(
    gtin: str, day: date, lot: str
) -> None:
    ymd = f"{day:%y%m%d}"
    raw_last = read_scan(f"]C101{gtin}17{ymd}10{lot}", TODAY)
    raw_first = read_scan(f"]d210{lot}{GS}01{gtin}17{ymd}", TODAY)
    brackets = read_scan(f"(17){ymd} (10){lot} (01){gtin}", TODAY)
    assert raw_last == raw_first == brackets == Scan(lot, gtin, day)
    message = GS1Message.parse(f"10{lot}{GS}01{gtin}17{ymd}")
    other = {e.ai.ai: e for e in message.element_strings}
    assert raw_first.lot == other["10"].value
    assert raw_first.gtin == other["01"].value
    library_day = other["17"].date
    assert library_day is not None
    assert (raw_first.expiry or day).strftime("%m%d") == library_day.strftime("%m%d")


@given(gtins)
def test_check_digits_as_a_general_library_has_them(gtin: str) -> None:
    assert Gtin.parse(gtin).check_digit == check_digit(gtin[:-1])


@given(gtins, st.integers(0, 13), st.integers(1, 9))
def test_one_wrong_digit_is_always_found(gtin: str, place: int, by: int) -> None:
    wrong = gtin[:place] + str((int(gtin[place]) + by) % 10) + gtin[place + 1 :]
    with pytest.raises(InputError, match="check digit"):
        read_scan(f"01{wrong}10A", TODAY)


def test_lengths_as_a_general_library_has_them() -> None:
    tables = (gs1._FIXED, gs1._VARIABLE, gs1._DIGITS)
    assert sum(map(len, tables)) > 300
    for table in tables:
        for identifier, length in table.items():
            digit = GS1ApplicationIdentifier.extract(identifier + "0" * 9)
            assert digit.ai == identifier
            assert digit.separator_required is (table is not gs1._FIXED)
            wrong = "1" * (length + 1)
            with pytest.raises(InputError):
                gs1._fits(identifier, wrong)
            gs1._fits(identifier, "1" * length)
            shape = digit.format  # such as N2+N6 or N2+X..20
            assert shape.rpartition("+")[2].strip("NX.[]") == str(length), identifier


@pytest.mark.parametrize(
    ("today", "digits", "full"),
    [
        # the specification's rule, from memory: 51 or more ahead is the century before, 50 or more
        # behind the century after
        (date(2026, 1, 1), "760101", date(2076, 1, 1)),
        (date(2026, 1, 1), "770101", date(1977, 1, 1)),
        (date(2060, 1, 1), "100101", date(2110, 1, 1)),
        (date(2060, 1, 1), "110101", date(2011, 1, 1)),
        (date(2026, 1, 1), "240200", date(2024, 2, 29)),
        (date(2026, 1, 1), "250200", date(2025, 2, 28)),
        (date(2026, 1, 1), "251200", date(2025, 12, 31)),
    ],
)
def test_centuries_and_last_days(today: date, digits: str, full: date) -> None:
    assert full_date(digits, today) == full


def test_century_and_last_day_as_a_general_library_has_them_today() -> None:
    today = date.today()  # the library knows no other day
    for ahead in range(-49, 51):
        for day in ("00", "15"):
            digits = f"{(today.year + ahead) % 100:02d}02{day}"
            other = GS1ElementString.extract(f"17{digits}")
            assert other is not None
            assert full_date(digits, today) == other.date


@pytest.mark.parametrize(
    "text", ["L 2207", "0123", "A(x)1", "10ABC", "17270630", "lot (2) b", "ÄÖ-7", "01095011", "]"]
)
def test_a_plain_lot_passes_unchanged(text: str) -> None:
    assert read_scan(text, TODAY) == Scan(text, plain=True)
    assert read_scan(f"  {text}\r\n", TODAY).lot == text


def test_a_code_of_another_kind_is_a_plain_lot() -> None:
    assert read_scan("]C0L2207", TODAY) == Scan("L2207", plain=True)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no lot"),
        (" \r\n", "no lot"),
        (GS, "no lot"),
        ("]C0", "no lot"),
        ("]C1", "empty"),
        ("0109501101530004", "check digit"),
        ("(01)9501101530003", "14 digits"),
        ("(01)0950110153000A", "14 digits"),
        ("]C10109501101530003172704", "6 digits"),
        ("(17)271301", "no day"),
        ("(17)270631", "no day"),
        ("(10)", "0 characters"),
        ("(10)" + "A" * 21, "21 characters"),
        ("(10)A~B", "may not"),
        ("(10)A(10)B", "twice"),
        ("(30)12A", "may not"),
        ("(99)" + "A" * 91, "91 characters"),
        ("(8008)2701011200", "not known"),
        ("(18)1", "not known"),
        ("]C188A", "not known"),
    ],
)
def test_broken_codes_are_refused_in_plain_words(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says) as refusal:
        read_scan(text, TODAY)
    assert refusal.value.mend


@pytest.mark.parametrize("digits", ["", "12a", "1" * 18])
def test_check_digit_refuses_what_is_no_number(digits: str) -> None:
    with pytest.raises(InputError):
        check_digit(digits)
    with pytest.raises(InputError):
        full_date(digits, TODAY)


def test_others_are_kept_and_the_same_twice_does_no_harm() -> None:
    scan = read_scan("(10)A(10)A(3103)001250(21)S1", TODAY)
    assert scan == Scan("A", None, None, (("3103", "001250"), ("21", "S1")))
