"""The tab of a macro-enabled workbook: what Excel's schema of such parts allows, and no more.

Untried in Excel: what can be held against the specification is.
"""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from lxml import etree
from tests.command_line import run
from tests.hosts.winshim import windows_xlwings

from pourbook.commands.desk.desk_steps import STEPS
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts.excel import basic, ribbon
from pourbook.hosts.steps import WORK
from pourbook.job import macros
from pourbook.workbook.check.check import check_file

SCHEMA = f"""\
<xsd:schema xmlns:xsd="http://www.w3.org/2001/XMLSchema" elementFormDefault="qualified"
    targetNamespace="{ribbon.SPACE}" xmlns="{ribbon.SPACE}">
  <xsd:simpleType name="words"><xsd:restriction base="xsd:string">
    <xsd:minLength value="1"/><xsd:maxLength value="1024"/></xsd:restriction></xsd:simpleType>
  <xsd:simpleType name="own"><xsd:restriction base="xsd:ID">
    <xsd:minLength value="1"/><xsd:maxLength value="1024"/></xsd:restriction></xsd:simpleType>
  <xsd:simpleType name="built_in"><xsd:restriction base="xsd:NCName">
    <xsd:minLength value="1"/><xsd:maxLength value="1024"/></xsd:restriction></xsd:simpleType>
  <xsd:complexType name="button">
    <xsd:attribute name="id" type="own" use="required"/>
    <xsd:attribute name="label" type="words"/>
    <xsd:attribute name="supertip" type="words"/>
    <xsd:attribute name="showImage" type="xsd:boolean"/>
    <xsd:attribute name="onAction" type="words"/>
  </xsd:complexType>
  <xsd:complexType name="group">
    <xsd:sequence><xsd:element name="button" type="button" maxOccurs="1000"/></xsd:sequence>
    <xsd:attribute name="id" type="own" use="required"/>
    <xsd:attribute name="label" type="words"/>
  </xsd:complexType>
  <xsd:complexType name="tab">
    <xsd:sequence><xsd:element name="group" type="group" maxOccurs="100"/></xsd:sequence>
    <xsd:attribute name="id" type="own" use="required"/>
    <xsd:attribute name="label" type="words"/>
    <xsd:attribute name="insertAfterMso" type="built_in"/>
  </xsd:complexType>
  <xsd:element name="customUI"><xsd:complexType><xsd:all>
    <xsd:element name="ribbon"><xsd:complexType><xsd:all>
      <xsd:element name="tabs"><xsd:complexType><xsd:sequence>
        <xsd:element name="tab" type="tab" maxOccurs="100"/>
      </xsd:sequence></xsd:complexType></xsd:element>
    </xsd:all></xsd:complexType></xsd:element>
  </xsd:all></xsd:complexType></xsd:element>
</xsd:schema>"""
"""What of [MS-CUSTOMUI2] the tab uses, written down anew. The types of texts and ids, what a tab, a
group and a button may hold and how many, were read in the published schema; that a ribbon of tabs
stands in the root was read in an example of such a part, its own declaration is from memory."""


def _rewritten(source: Path, target: Path, part: str, content: bytes | None) -> Path:
    copied(source, target, lambda name, old: content if name == part else old)
    return target


def _said(path: Path) -> list[str]:
    return [f"{f.id}: {f.what}" for f in check_file(path).findings]


def test_the_tab_is_as_the_schema_has_it(excel_job: Path) -> None:
    with zipfile.ZipFile(excel_job) as package:
        root = etree.fromstring(package.read(ribbon.PART))
        leads = etree.fromstring(package.read("_rels/.rels"))
        types = etree.fromstring(package.read("[Content_Types].xml"))
    schema = etree.XMLSchema(etree.fromstring(SCHEMA))
    schema.assertValid(root)
    led = [one.get("Target") for one in leads if one.get("Type") == ribbon.RELATION]
    assert led == [ribbon.PART]
    assert len({one.get("Id") for one in leads}) == len(leads)
    usual = {one.get("Extension"): one.get("ContentType") for one in types if one.get("Extension")}
    assert usual["xml"] == "application/xml"


def test_the_schema_refuses_what_excel_would() -> None:
    schema = etree.XMLSchema(etree.fromstring(SCHEMA))
    for old, new in (
        (b'id="pb_check"', b'id="pb_new"'),
        (b'label="Settle"', b'label=""'),
        (b"button", b"knob"),
        (b"onAction", b"onPress"),
    ):
        spoilt = ribbon.content().replace(old, new)
        assert spoilt != ribbon.content()
        assert not schema.validate(etree.fromstring(spoilt)), new


def test_every_button_is_a_step_and_calls_a_procedure_that_is_there() -> None:
    buttons = list(etree.fromstring(ribbon.content()).iter("{*}button"))
    assert [(b.get("id"), b.get("label")) for b in buttons] == [
        (ribbon.PREFIX + step.name, step.label) for step in WORK
    ]
    assert [step.name for step in STEPS] == [step.name for step in WORK]
    source = basic.sources()["pourbook_ribbon"]
    assert {b.get("onAction") for b in buttons} == {ribbon.CALLED}
    assert f"Sub {ribbon.CALLED}(ByVal control As IRibbonControl)" in source
    assert f"Mid$(control.ID, {len(ribbon.PREFIX) + 1})" in source
    assert "Sub open_step(step, path)" in basic.sources()["xlwings_udfs"]


def test_a_button_opens_the_window_with_the_workbook(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[list[str]] = []
    monkeypatch.setattr("subprocess.Popen", begun.append)
    with windows_xlwings():
        from pourbook.hosts.excel import udfs

        step: Any = udfs.open_step
        step("settle", "C:\\jobs\\our bar.xlsm")
        assert step.__xlfunc__["sub"], "it is no function of a worksheet"
    job = "C:\\jobs\\our bar.xlsm"
    assert begun == [[sys.executable, "-m", "pourbook", "desk", job, "--step", "settle"]]


def test_buttons_that_are_not_ours_are_told(excel_job: Path, tmp_path: Path) -> None:
    assert _said(excel_job) == []
    bare = etree.tostring(etree.fromstring(ribbon.content()))
    alike = bare.replace(b" label=", b"\n  label=")
    assert alike != ribbon.content()
    same = _rewritten(excel_job, tmp_path / "same.xlsm", ribbon.PART, alike)
    assert _said(same) == []
    other = ribbon.content().replace(ribbon.CALLED.encode(), b"Format_disk")
    changed = _said(_rewritten(excel_job, tmp_path / "other.xlsm", ribbon.PART, other))
    assert any("buttons of its own" in one for one in changed), changed
    assert any(ribbon.PART in one for one in changed), changed


def test_a_job_without_macros_has_no_tab(excel_job: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.xlsx"
    assert run("books", excel_job, copy) == 0
    with zipfile.ZipFile(copy) as package:
        assert ribbon.PART not in package.namelist()
        assert ribbon.RELATION.encode() not in package.read("_rels/.rels")


def test_refresh_gives_a_job_its_tab_and_openpyxl_reads_it(excel_job: Path, tmp_path: Path) -> None:
    bare = _rewritten(excel_job, tmp_path / "bare.xlsm", ribbon.PART, None)
    assert macros.refresh(bare)
    with zipfile.ZipFile(bare) as package:
        assert package.read(ribbon.PART) == ribbon.content()
        assert package.read("_rels/.rels").count(ribbon.RELATION.encode()) == 1
    assert not macros.refresh(bare)
    assert _said(bare) == []
    book = openpyxl.load_workbook(bare, keep_vba=True)
    assert "Start" in book.sheetnames
    book.vba_archive.close()  # else it is closed when a later test runs
