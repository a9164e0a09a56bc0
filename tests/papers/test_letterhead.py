"""The picture in the letterhead: fitted and kept, or refused at the cell that names it."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from pathlib import Path

import openpyxl
import pytest
from PIL import Image
from tests.command_line import run

from pourbook.errors import InputError
from pourbook.papers.letterhead import MOST_BYTES, picture
from pourbook.workbook.layout.laid_out import Layout

Printed = pytest.CaptureFixture[str]


def _chunk(kind: bytes, content: bytes) -> bytes:
    return (
        struct.pack(">I", len(content))
        + kind
        + content
        + struct.pack(">I", zlib.crc32(kind + content))
    )


def _huge() -> bytes:
    """A PNG of a few bytes that says it is 60,000 pixels square."""
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    parts = _chunk(b"IHDR", head) + _chunk(b"IDAT", zlib.compress(b"")) + _chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


@pytest.fixture
def job(demo_us: Path, plan_us: Layout, tmp_path: Path) -> Path:
    """The demo, which names a picture that is beside it."""
    book = openpyxl.load_workbook(demo_us)
    book["Start"][plan_us.cell("paper", "picture").address] = "mark.png"
    book.save(tmp_path / "job.xlsx")
    Image.new("RGB", (600, 200), "navy").save(tmp_path / "mark.png")
    return tmp_path / "job.xlsx"


def test_the_letter_carries_the_picture(job: Path, tmp_path: Path) -> None:
    assert run("papers", job, tmp_path / "p", "--for", "client") == 0
    letter = tmp_path / "p" / "job client.xlsx"
    (shown,) = openpyxl.load_workbook(letter)["Quote"]._images
    assert shown.width / shown.height == pytest.approx(3, rel=0.02)
    with zipfile.ZipFile(letter) as package:
        (part,) = (name for name in package.namelist() if name.startswith("xl/media/"))
        with Image.open(io.BytesIO(package.read(part))) as kept:
            assert kept.size == (600, 200)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (None, "there is no file 'mark.png'"),
        (b"no picture", "cannot be read as a picture"),
        (b"", "cannot be read as a picture"),
        (_huge(), "cannot be read as a picture"),
        (b"GIF89a" + bytes(30), "cannot be read as a picture"),
        (bytes(MOST_BYTES + 1), "is no file below 5 MB"),
    ],
    ids=["missing", "text", "empty", "huge", "gif", "large"],
)
def test_what_is_no_picture_is_refused_at_its_cell(
    job: Path, tmp_path: Path, plan_us: Layout, content: bytes | None, told: str, capsys: Printed
) -> None:
    file = tmp_path / "mark.png"
    file.unlink()
    if content is not None:
        file.write_bytes(content)
    assert run("papers", job, tmp_path / "p", "--for", "client") == 1
    said = capsys.readouterr().err
    place = plan_us.cell("paper", "picture").address
    assert f"job.xlsx, Start!{place}: Letterhead picture: " in said
    assert told in said
    assert not list((tmp_path / "p").glob("*.xlsx"))


def test_a_folder_is_no_picture(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is no file"):
        picture(".", tmp_path, "Start!B46", wide=100, high=50)


@pytest.mark.parametrize("size", [(600, 200), (20, 400), (1, 1)])
def test_a_picture_keeps_its_shape_and_its_room(tmp_path: Path, size: tuple[int, int]) -> None:
    Image.new("RGB", size).save(tmp_path / "mark.jpg")
    made = picture("mark.jpg", tmp_path, "Start!B46", wide=180, high=46)
    points = made.width * 72 / 96, made.height * 72 / 96
    assert points[0] <= 180.001
    assert points[1] <= 46.001
    assert max(points[0] / 180, points[1] / 46) == pytest.approx(1)
