"""Turns a finished workbook into a macro-enabled one, and back: the package, never its cells.

Contract: :func:`enable` puts Pourbook's macros into a package, or renews them; entries, formulas
and stored values stay as they are. :func:`without` takes a VBA project out of the parts of a
package. Every sheet gets a code name, as Excel matches sheets and modules by it.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

from lxml import etree

from pourbook.errors import UsageError
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.formats.ooxml import package, rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts.excel import basic, ribbon, vbaproject
from pourbook.hosts.excel.vbaproject import Kind, Module
from pourbook.workbook.check.structure import refuse_other_layout
from pourbook.workbook.read.read import read_book

SUFFIX = ".xlsm"
PROJECT = "xl/vbaProject.bin"
_PARTS_OF_MACROS = re.compile(r"xl/(_rels/)?vba\w+\.(bin|xml|bin\.rels)")
_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "http://schemas.microsoft.com/office/2006/relationships/vbaProject"
_PROJECT_TYPE = "application/vnd.ms-office.vbaProject"
_PLAIN = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
_ENABLED = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
_BOOK = "ThisWorkbook"
_TYPES, _PACKAGE = "[Content_Types].xml", "_rels/.rels"


def is_part(name: str) -> bool:
    """Return whether a part of a package belongs to its macros."""
    return name == ribbon.PART or _PARTS_OF_MACROS.fullmatch(name) is not None


def enable(source: Path, target: Path) -> None:
    """Copy a workbook with Pourbook's macros in it.

    Args:
        source: A finished workbook, with or without macros; those it has are replaced.
        target: Where to write the copy, which has to end in ``.xlsm`` for Excel.
    """
    sheets = rewrite.sheet_parts(source)
    with zipfile.ZipFile(source) as old:
        held_in = {part: old.read(part) for part in (rewrite.BOOK, *sheets)}
    named: dict[str, bytes] = {}
    named[rewrite.BOOK], code_name = _with_code_name(
        held_in[rewrite.BOOK], "workbookPr", _BOOK, set()
    )
    taken = {code_name.casefold(), *basic.MODULES}
    documents = [Module(code_name, "book")]
    for number, part in enumerate(sheets, 1):
        named[part], code_name = _with_code_name(held_in[part], "sheetPr", f"Sheet{number}", taken)
        taken.add(code_name.casefold())
        kind: Kind = "chart" if part.startswith("xl/chartsheets/") else "sheet"
        documents.append(Module(code_name, kind))

    edits = _edits(enabled=True)

    def edit(part: str, content: bytes) -> bytes | None:
        if is_part(part):
            return None
        return edits.get(part, _same)(named.get(part, content))

    copied(source, target, edit, {PROJECT: basic.project(documents), ribbon.PART: ribbon.content()})


def refresh(path: Path) -> bool:
    """Renew the macros of a job; what was typed and what was worked out stays as it is.

    Args:
        path: A job workbook ending in ``.xlsm``.

    Returns:
        Whether there was anything to renew.

    Raises:
        UsageError: It is no ``.xlsm`` file, or carries macros that are not Pourbook's.
        FileUnreadableError: It cannot be read as a job, is of a version whose cells stand
            elsewhere, or is open elsewhere.
    """
    if path.suffix.lower() != SUFFIX:
        mend = f"make one with: pourbook new {path.stem}{SUFFIX}"
        raise UsageError(f"only a workbook that ends in {SUFFIX} carries macros", mend, str(path))
    with held(path):
        book = read_book(path)
        refuse_other_layout(book.plan(), book)
        parts = package.open_package(path)
        project = parts.get(PROJECT)
        if project is not None and not basic.are_pourbooks(project):
            mend = "take them out in Excel first (Alt+F11), or make the job anew"
            raise UsageError("the file carries macros that are not Pourbook's", mend, str(path))
        tab = parts.get(ribbon.PART) == ribbon.content()
        if project is not None and tab and basic.are_current(project):
            return False
        files.replace_file(path, lambda new: enable(path, new), force=True)
        return True


def without(name: str, content: bytes) -> bytes | None:
    """Return a part of a package as it is in one without macros, None for one of theirs."""
    if is_part(name):
        return None
    return _edits(enabled=False).get(name, _same)(content)


def _same(content: bytes) -> bytes:
    return content


def _with_code_name(
    content: bytes, element: str, wanted: str, taken: set[str]
) -> tuple[bytes, str]:
    """Return a part with a code name, and the name; one that is there already stays."""
    root = package.parse(content, "")
    properties = root.find(_Q + element)
    if properties is None:
        properties = etree.Element(_Q + element)
        before = [root.find(_Q + "fileVersion"), root.find(_Q + "fileSharing")]
        root.insert(sum(e is not None for e in before), properties)
    name = properties.get("codeName", "")
    if vbaproject.NAME.fullmatch(name) and name.casefold() not in taken:
        return content, name
    name, number = wanted, 0
    while name.casefold() in taken:
        number += 1
        name = f"{wanted}_{number}"
    properties.set("codeName", name)
    return rewrite.written(root), name


def _types(content: bytes, *, enabled: bool) -> bytes:
    root = package.parse(content, "")
    space = "{" + str(etree.QName(root).namespace) + "}"
    for entry in list(root):
        part = entry.get("PartName", "").lstrip("/")
        if entry.get("ContentType") in {_PLAIN, _ENABLED}:
            entry.set("ContentType", _ENABLED if enabled else _PLAIN)
        elif is_part(part) or entry.get("ContentType") == _PROJECT_TYPE:
            root.remove(entry)
    if enabled:
        etree.SubElement(
            root, space + "Override", PartName=f"/{PROJECT}", ContentType=_PROJECT_TYPE
        )
    return rewrite.written(root)


def _leads(content: bytes, kind: str, name: str, target: str, *, enabled: bool) -> bytes:
    """Return relationships with one of a kind, to a part of the macros, or with none of it."""
    root = package.parse(content, "")
    space = "{" + str(etree.QName(root).namespace) + "}"
    for entry in list(root):
        if entry.get("Type") == kind:
            root.remove(entry)
    if enabled:
        etree.SubElement(root, space + "Relationship", Id=name, Type=kind, Target=target)
    return rewrite.written(root)


def _edits(*, enabled: bool) -> Mapping[str, Callable[[bytes], bytes]]:
    """Return what becomes of the parts that say what a package holds."""
    project = _RELATION, "rIdPourbookMacros", "vbaProject.bin"
    tab = ribbon.RELATION, "rIdPourbookTab", ribbon.PART
    return {
        _TYPES: lambda content: _types(content, enabled=enabled),
        rewrite.RELATIONS: lambda content: _leads(content, *project, enabled=enabled),
        _PACKAGE: lambda content: _leads(content, *tab, enabled=enabled),
    }
