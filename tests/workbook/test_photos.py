"""Pictures pasted on Photos stay through every command; what begins anew says they stay behind.

A picture is put into the package as a spreadsheet program does: a part, a drawing, two relations.
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.job import upgrade
from pourbook.job.fill import fill

_PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f645400000000049454e44ae426082"
)
_NS = "http://schemas.openxmlformats.org"
_DRAWING = (
    f'<xdr:wsDr xmlns:xdr="{_NS}/drawingml/2006/spreadsheetDrawing" '
    f'xmlns:a="{_NS}/drawingml/2006/main" '
    f'xmlns:r="{_NS}/officeDocument/2006/relationships"><xdr:oneCellAnchor><xdr:from><xdr:col>1'
    "</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>9</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:from>"
    '<xdr:ext cx="360000" cy="360000"/><xdr:pic><xdr:nvPicPr><xdr:cNvPr id="2" name="Island"/>'
    '<xdr:cNvPicPr/></xdr:nvPicPr><xdr:blipFill><a:blip r:embed="rId1"/><a:stretch><a:fillRect/>'
    '</a:stretch></xdr:blipFill><xdr:spPr><a:prstGeom prst="rect"><a:avLst/></a:prstGeom>'
    "</xdr:spPr></xdr:pic><xdr:clientData/></xdr:oneCellAnchor></xdr:wsDr>"
)


def _pasted(source: Path, target: Path) -> Path:
    """Write a copy of a job with a picture on its sheet Photos."""
    names = openpyxl.load_workbook(source, read_only=True).sheetnames
    number = names.index("Photos") + 1
    sheet, relations = (
        f"xl/worksheets/sheet{number}.xml",
        f"xl/worksheets/_rels/sheet{number}.xml.rels",
    )
    relation = (
        f'<Relationship Id="rIdPic" Type="{_NS}/officeDocument/2006/relationships/{{}}" '
        'Target="{}"/>'
    )
    head = f'<Relationships xmlns="{_NS}/package/2006/relationships">'
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for item in old.infolist():
            data = old.read(item).decode() if item.filename.endswith((".xml", ".rels")) else ""
            if item.filename == sheet:
                tag = f'<drawing xmlns:r="{_NS}/officeDocument/2006/relationships" r:id="rIdPic"/>'
                at = next(
                    data.index(end)
                    for end in ("<legacyDrawing", "<tableParts", "</worksheet>")
                    if end in data
                )
                data = data[:at] + tag + data[at:]
            if item.filename == relations:
                mine = relation.format("drawing", "/xl/drawings/drawing99.xml")
                data = data.replace("</Relationships>", f"{mine}</Relationships>")
            if item.filename == "[Content_Types].xml":
                kinds = (
                    '<Default Extension="png" ContentType="image/png"/>'
                    '<Override PartName="/xl/drawings/drawing99.xml" ContentType='
                    '"application/vnd.openxmlformats-officedocument.drawing+xml"/>'
                )
                data = data.replace("</Types>", f"{kinds}</Types>")
            new.writestr(item, data or old.read(item))
        if relations not in old.namelist():
            mine = relation.format("drawing", "/xl/drawings/drawing99.xml")
            new.writestr(relations, f"{head}{mine}</Relationships>")
        new.writestr("xl/drawings/drawing99.xml", _DRAWING)
        picture = relation.format("image", "/xl/media/image99.png").replace("rIdPic", "rId1")
        new.writestr("xl/drawings/_rels/drawing99.xml.rels", f"{head}{picture}</Relationships>")
        new.writestr("xl/media/image99.png", _PNG)
    return target


def _pictures(path: Path) -> int:
    """Return how many pictures a sheet shows, by the relations of the package."""
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        assert package.testzip() is None
        found = 0
        for name in names:
            if not name.startswith("xl/worksheets/_rels/"):
                continue
            if "drawing99.xml" in package.read(name).decode():
                sheet = name.replace("_rels/", "").removesuffix(".rels")
                found += 'r:id="rIdPic"' in package.read(sheet).decode()
        parts = {"xl/drawings/drawing99.xml", "xl/media/image99.png"}
        assert package.read("xl/media/image99.png") == _PNG
        assert "image/png" in package.read("[Content_Types].xml").decode()
    return found if parts <= set(names) else 0


@pytest.fixture
def job(demo_us: Path, tmp_path: Path) -> Path:
    """The demo with a picture."""
    found = _pasted(demo_us, tmp_path / "job.xlsx")
    assert _pictures(found) == 1
    return found


def test_a_picture_stays_through_the_commands(job: Path, tmp_path: Path) -> None:
    assert run("check", job) == 0
    assert run("recompute", job) == 0
    assert _pictures(job) == 1
    assert run("accept", job, "--by", "The owners", "--on", "2026-11-25") == 0
    assert _pictures(job) == 1
    fill(job, tmp_path / "filled.xlsx", {("colours", "sample", 5): "board 9"}, force=False)
    assert _pictures(tmp_path / "filled.xlsx") == 1
    assert run("books", job, tmp_path / "books.xlsx") == 0
    assert _pictures(tmp_path / "books.xlsx") == 1


def test_an_upgrade_says_that_pictures_stay_in_the_original(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upgrade, "has_other_layout", lambda *_: True)
    done = upgrade.upgrade(job)
    assert done is not None
    assert "1 picture: copy them over, to the sheet Photos" in done.lost
