"""A supplier's invoice as it writes it, learned once, and taken by one command afterwards."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.command_line import run

from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
SELLER = "Quayside depot"
FIRST = """Beleg;Datum;Pos;Artikel;Bezeichnung;Menge;Einzelpreis;Rabattgruppe
L-501;07.01.2027;1;4711;Klarguss 2 gal;2;152,00;A
L-501;07.01.2027;2;0815;Grund 3 gal;1;1.236,50;A
L-501;07.01.2027;3;;Fracht;1;28,40;
L-501;07.01.2027;;;Summe;;;
"""
SECOND = """Beleg;Datum;Pos;Artikel;Bezeichnung;Menge;Einzelpreis;Rabattgruppe
L-502;09.01.2027;1;4711;Klarguss 2 gal;-1;152,00;A
L-502;09.01.2027;2;;Pfand Fass;2;6,00;
"""
MAPS = (
    "Beleg=Invoice or slip", "Datum=Date", "Pos=Line", "Artikel=Item number", "Menge=Packs",
    "Einzelpreis=Price of one",
)  # fmt: skip
TYPED: dict[Entry, object] = {
    ("sellers", "seller", 0): SELLER,
    ("sellers", "kinds", 0): "Fracht=freight; Pfand=deposit",
    ("sellers", "skipped", 0): "Summe; Zwischensumme",
    **{
        ("items", name, row): value
        for row, item in enumerate(
            (("4711", "Clear flood", 2.0), ("0815", "Tint base", 3.0)),
        )
        for name, value in {
            "item_seller": SELLER,
            "item": item[0],
            "product": item[1],
            "holds": "kit",
            "contents": item[2],
        }.items()
    },
}


@pytest.fixture
def job(accepted_us: Path, demo_shop: Path, tmp_path: Path) -> Path:
    shop = Path(shutil.copy(demo_shop, tmp_path / "shop.xlsx"))
    fill(shop, shop, TYPED, force=True)
    return Path(shutil.copy(accepted_us, tmp_path / "job.xlsx"))


def _csv(job: Path, content: str) -> Path:
    path = job.with_name("invoice.csv")
    path.write_text(content, encoding="utf-8")
    return path


def _remember(job: Path) -> int:
    maps = [word for pair in MAPS for word in ("--map", pair)]
    ignored = ["--ignore", "Bezeichnung", "--ignore", "Rabattgruppe"]
    source = _csv(job, FIRST)
    said = ["--dates", "dmy", "--supplier", SELLER, "--remember"]
    return run("receipts", job, "--from", source, *maps, *ignored, *said)


def _rows(job: Path, block: str, *names: str) -> list[tuple[object, ...]]:
    reader = Reader(check_file(job))
    key = {"receipts": "product", "extras": "kind"}[block]
    return [
        tuple(reader.value(block, name, row) for name in names) for row in reader.rows(block, key)
    ]


def test_the_first_file_is_learned_and_the_second_needs_nothing_said(
    job: Path, capsys: Printed
) -> None:
    """By hand: two coatings and freight of 28.40; then one pack back and two deposits of 6."""
    assert _remember(job) == 0
    said = capsys.readouterr().out
    assert "2 rows taken" in said
    assert "1 other lines" in said
    assert "1 lines left out" in said
    assert f"Remembered on Suppliers of {job.with_name('shop.xlsx')}" in said
    names = ("supplier", "document", "line", "kind", "product", "holds", "packs", "contents")
    assert _rows(job, "receipts", *names, "price") == [
        (SELLER, "L-501", 1.0, "bought", "Clear flood", "kit", 2.0, 2.0, 152.0),
        (SELLER, "L-501", 2.0, "bought", "Tint base", "kit", 1.0, 3.0, 1236.5),
    ]
    assert run("receipts", job, "--from", _csv(job, SECOND)) == 0
    assert _rows(job, "receipts", "document", "kind", "packs")[2:] == [("L-502", "sent back", 1.0)]
    assert _rows(job, "extras", "supplier", "document", "kind", "what", "amount") == [
        (SELLER, "L-501", "freight", "Fracht", 28.4),
        (SELLER, "L-502", "deposit", "Pfand Fass", 12.0),
    ]


def test_a_file_taken_twice_is_taken_once(job: Path, capsys: Printed) -> None:
    _remember(job)
    before = (_rows(job, "receipts", "document", "line"), _rows(job, "extras", "amount"))
    capsys.readouterr()
    assert run("receipts", job, "--from", _csv(job, FIRST)) == 0
    said = capsys.readouterr().out
    assert "0 rows taken" in said
    assert "2 there already" in said
    assert "0 other lines" in said
    assert (_rows(job, "receipts", "document", "line"), _rows(job, "extras", "amount")) == before


def test_what_is_learned_stands_on_the_shop(job: Path) -> None:
    _remember(job)
    reader = Reader(check_file(job.with_name("shop.xlsx")))
    assert reader.text("sellers", "maps", 0) == "; ".join(MAPS)
    assert reader.text("sellers", "ignored", 0) == "Bezeichnung; Rabattgruppe"
    assert reader.text("sellers", "dates", 0) == "day first"
    assert reader.text("sellers", "headings", 0).startswith("Beleg; Datum; Pos")
    assert reader.text("sellers", "kinds", 0) == "Fracht=freight; Pfand=deposit", "typed, and kept"


def test_a_dry_run_writes_nothing(job: Path, capsys: Printed) -> None:
    _remember(job)
    files = [job, job.with_name("shop.xlsx")]
    before = [path.read_bytes() for path in files]
    assert run("receipts", job, "--from", _csv(job, SECOND), "--dry-run") == 0
    assert "would be taken" in capsys.readouterr().out
    assert [path.read_bytes() for path in files] == before


def test_an_unknown_item_number_is_named_by_its_line(job: Path, capsys: Printed) -> None:
    _remember(job)
    before = job.read_bytes()
    wrong = SECOND.replace("4711", "9999")
    assert run("receipts", job, "--from", _csv(job, wrong)) == 1
    said = capsys.readouterr().err
    assert "item number '9999'" in said
    assert "invoice.csv, line 2" in said
    assert job.read_bytes() == before


def test_whose_file_it_is_must_be_known(job: Path, capsys: Printed) -> None:
    assert run("receipts", job, "--from", _csv(job, FIRST), "--supplier", "Nobody") in {1, 2}
    assert "Nobody" in capsys.readouterr().err
    assert run("receipts", job, "--from", _csv(job, FIRST), "--remember") == 2
    assert "--supplier NAME" in capsys.readouterr().err
    job.with_name("shop.xlsx").unlink()
    assert run("receipts", job, "--from", _csv(job, FIRST), "--supplier", SELLER) == 2
    assert "--shop" in capsys.readouterr().err


def test_the_next_file_of_an_older_program_needs_no_encoding_said(job: Path) -> None:
    maps = [word for pair in MAPS for word in ("--map", pair)]
    ignored = ["--ignore", "Bezeichnüng", "--ignore", "Rabattgruppe"]
    said = ["--dates", "dmy", "--supplier", SELLER, "--remember", "--encoding", "cp1252"]
    path = job.with_name("invoice.csv")
    path.write_bytes(FIRST.replace("Bezeichnung", "Bezeichnüng").encode("cp1252"))
    assert run("receipts", job, "--from", path, *maps, *ignored, *said) == 0
    path.write_bytes(SECOND.replace("Bezeichnung", "Bezeichnüng").encode("cp1252"))
    assert run("receipts", job, "--from", path) == 0
    assert len(_rows(job, "receipts", "document")) == 3


def test_a_shop_beside_it_that_cannot_be_read_stops_no_plain_file(job: Path) -> None:
    job.with_name("shop.xlsx").write_bytes(b"no workbook")
    plain = _csv(
        job,
        "Date,From,Invoice or slip,Line,Kind,Product,Holds,Packs,Contents of one,Price of one\n"
        "2027-01-08,Depot,Q-9,1,bought,Clear flood,kit,1,2,152\n",
    )
    assert run("receipts", job, "--from", plain) == 0
    assert _rows(job, "receipts", "document") == [("Q-9",)]
