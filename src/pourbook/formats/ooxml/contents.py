"""What a package holds, by content type and relationship, as a spreadsheet program finds it.

Contract: pure. A program opens what relationships lead to, whatever a part is called:
:func:`refuse` refuses a package in which that is not what we read, :func:`odd` names what no job,
shop or month holds. What a workbook may contain is a list, and everything else is told.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache

from lxml import etree

from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml import package
from pourbook.records import dataclass

WORKBOOK = "xl/workbook.xml"
_TYPES = "[Content_Types].xml"
_SHEETML = "application/vnd.openxmlformats-officedocument.spreadsheetml."
_OFFICE = "application/vnd.openxmlformats-officedocument."
_PACKAGE = "application/vnd.openxmlformats-package."
MACROS = "application/vnd.ms-office.vbaproject"
BOOKS = (_SHEETML + "sheet.main+xml", "application/vnd.ms-excel.sheet.macroenabled.main+xml")
HELD = {
    *BOOKS,
    MACROS,
    *(
        _SHEETML + kind + "+xml"
        for kind in (
            *("worksheet", "sharedstrings", "styles", "calcchain", "comments", "table"),
            *("sheetmetadata", "revisionheaders", "usernames"),
        )
    ),
    _SHEETML + "printersettings",
    _OFFICE + "theme+xml",
    _OFFICE + "themeoverride+xml",
    _OFFICE + "drawing+xml",
    _OFFICE + "drawingml.chart+xml",
    _OFFICE + "drawingml.chartshapes+xml",
    _OFFICE + "vmldrawing",
    _OFFICE + "extended-properties+xml",
    _OFFICE + "custom-properties+xml",
    _OFFICE + "customxmlproperties+xml",
    _PACKAGE + "core-properties+xml",
    _PACKAGE + "relationships+xml",
    "application/vnd.ms-office.chartstyle+xml",
    "application/vnd.ms-office.chartcolorstyle+xml",
    "application/vnd.ms-office.drawingml.chartex+xml",
    "application/vnd.ms-excel.threadedcomments+xml",
    "application/vnd.ms-excel.person+xml",
    "application/vnd.ms-office.classificationlabels+xml",
    "application/vnd.ms-excel.featurepropertybag+xml",
    *(f"image/{kind}" for kind in ("png", "jpeg", "jpg", "gif", "bmp", "tiff", "x-emf", "x-wmf")),
    *("image/svg+xml", "image/emf", "image/wmf"),
}
"""Content types, in small letters, of what the programs that save a workbook put into it."""
_SPOKEN = (
    ("externallink", "a link to another workbook"),
    ("connections", "a connection to data outside"),
    ("querytable", "a query of data outside"),
    ("oleobject", "an embedded object"),
    ("activex", "an embedded control"),
    ("macrosheet", "a sheet of old macros"),
    ("volatiledependencies", "values that come from outside"),
    ("webextension", "an add-in from the web"),
    ("pivot", "a pivot table"),
)
_CUSTOM_XML = re.compile(r"^customXml/item\d+\.xml$")
_HARMLESS_LINKS = ("http://", "https://", "mailto:", "#")
_ENDS = {
    "officedocument": (WORKBOOK,),
    "custom-properties": ("docProps/custom.xml",),
    "sharedstrings": ("xl/sharedStrings.xml",),
    "styles": ("xl/styles.xml",),
}
"""Where the parts have to be that are read by their names, by the kind of what leads there."""
_LED = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
_FOLLOWED = {
    "officedocument": BOOKS,
    "custom-properties": (_OFFICE + "custom-properties+xml",),
    "sharedstrings": (_SHEETML + "sharedstrings+xml",),
    "styles": (_SHEETML + "styles+xml",),
    "worksheet": (_SHEETML + "worksheet+xml",),
    "theme": (_OFFICE + "theme+xml",),
}
"""The content types of the parts that are read, by the kind of what leads there."""
_DECLARED = "{http://schemas.openxmlformats.org/package/2006/content-types}"
_NO_TYPES = f'<Types xmlns="{_DECLARED[1:-1]}"/>'.encode()
_RELATION = "{http://schemas.openxmlformats.org/package/2006/relationships}Relationship"


@dataclass(frozen=True)
class Relation:
    """What one part leads to: the last word of the kind, the part or address, whether outside.

    One that is not ``plain`` is written as no program writes it: some follow it, and some do not.
    """

    name: str
    kind: str
    target: str
    outside: bool
    plain: bool


@dataclass(frozen=True)
class Odd:
    """Something no workbook of ours holds: ``links``, ``macros`` or ``parts``, and what it is."""

    kind: str
    what: str


def relations(parts: Mapping[str, bytes], part: str = "", where: str = "") -> list[Relation]:
    """Return what a part leads to; what the package itself leads to where none is named.

    Raises:
        FileUnreadableError: They cannot be read.
    """
    folder, name = posixpath.split(part)
    content = parts.get(posixpath.join(folder, "_rels", f"{name}.rels"))
    return [] if content is None else list(_relations(content, folder, where))


@lru_cache(maxsize=128)
def _relations(content: bytes, folder: str, where: str) -> tuple[Relation, ...]:
    root = package.parse(content, where, _RELATION + "s")
    known: set[str] = set()
    found = []
    for one in root.iter("{*}Relationship"):
        name, kind, target = (one.get(mark, "") for mark in ("Id", "Type", "Target"))
        outside = one.get("TargetMode", "").casefold() == "external"
        if not outside:
            target = posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")
        last = kind.rstrip("/").rpartition("/")[2].casefold()
        plain = one.tag == _RELATION and one.getparent() is root and name not in known
        plain = plain and (last not in _FOLLOWED or kind.casefold() == _LED.casefold() + last)
        known.add(name)
        found.append(Relation(name, last, target, outside, plain))
    return tuple(found)


def types(parts: Mapping[str, bytes], where: str) -> dict[str, str]:
    """Return the content type of every part, in small letters; empty where none is declared.

    Raises:
        FileUnreadableError: They cannot be read.
    """
    own, usual = _types(parts.get(_TYPES, _NO_TYPES), where)
    return {
        name: own.get(name.casefold(), usual.get(name.rpartition(".")[2].casefold(), ""))
        for name in parts
        if name != _TYPES and not name.endswith("/")
    }


@lru_cache(maxsize=4)
def _types(content: bytes, where: str) -> tuple[dict[str, str], dict[str, str]]:
    """Return the content types by part and by how a name ends, all in small letters."""
    root = package.parse(content, where, _DECLARED + "Types")
    usual = {
        one.get("Extension", "").casefold(): one.get("ContentType", "").casefold()
        for one in root.findall(_DECLARED + "Default")
    }
    own = {
        one.get("PartName", "").lstrip("/").casefold(): one.get("ContentType", "").casefold()
        for one in root.findall(_DECLARED + "Override")
    }
    return own, usual


def refuse(parts: Mapping[str, bytes], where: str) -> None:
    """Refuse a package whose parts are not where a spreadsheet program finds them, or not such.

    One that is missing is told by whoever reads it.

    Raises:
        FileUnreadableError: It opens another workbook, or other texts or marks, than are read.
    """
    found = [*relations(parts, "", where), *relations(parts, WORKBOOK, where)]
    what = "it leads to other parts than a workbook of Pourbook"
    for kind, places in _ENDS.items():
        led = {one.target for one in found if one.kind == kind}
        here = {place for place in places if place in parts}
        if led - set(places) or (here and not led) or (kind == "officedocument" and not led):
            raise FileUnreadableError(what, package.SAVE_ANEW, where)
    declared = types(parts, where)
    for one in found:
        kinds = _FOLLOWED.get(one.kind, ())
        if kinds and not (one.plain and declared.get(one.target, kinds[0]) in kinds):
            raise FileUnreadableError(what, package.SAVE_ANEW, where)


def odd(parts: Mapping[str, bytes], where: str, ours: Mapping[str, bytes]) -> Iterator[Odd]:
    """Give what no job, shop or month holds.

    Args:
        parts: The package.
        where: What the file is called.
        ours: Parts that may be there too, if they say what they say here.

    Raises:
        FileUnreadableError: What it holds cannot be read.
    """
    macros = _macros(parts, where)
    known = {n for n, own in ours.items() if _says(parts.get(n, b""), own, where)}
    for name, kind in types(parts, where).items():
        if (
            kind in HELD
            or name in macros
            or (kind == "application/xml" and name in known)
            or (kind == "application/xml" and _CUSTOM_XML.match(name))
        ):
            continue
        both = f"{kind} {name.casefold()}"
        said = next((said for word, said in _SPOKEN if word in both), "what no job holds")
        yield Odd("links" if "externallink" in both else "parts", f"it holds {said} ({name})")
    owners = [""]
    owners += [
        posixpath.join(posixpath.dirname(folder), name.removesuffix(".rels"))
        for folder, name in map(posixpath.split, parts)
        if folder.endswith("_rels") and folder != "_rels"
    ]
    for owner in owners:
        for one in relations(parts, owner, where):
            if one.outside and not _is_harmless(one):
                yield Odd(
                    "links", f"it holds a link to {one.target or 'nothing'} ({owner or 'the file'})"
                )
            if one.kind in {"extensibility", "attachedtoolbars"} and one.target not in known:
                yield Odd("parts", f"it holds buttons of its own ({one.target})")


def _says(content: bytes, own: bytes, where: str) -> bool:
    """Return whether a part says what our own does, however a program has written it."""
    if not content:
        return False
    said, ours = (
        etree.tostring(package.parse(one, where), method="c14n2") for one in (content, own)
    )
    return bool(said == ours)


def _is_harmless(one: Relation) -> bool:
    return one.kind == "hyperlink" and one.target.casefold().startswith(_HARMLESS_LINKS)


def projects(parts: Mapping[str, bytes], where: str) -> list[bytes]:
    """Return every part that holds macros, whatever it is called.

    Raises:
        FileUnreadableError: What the package holds cannot be read.
    """
    return [parts[name] for name in _macros(parts, where)]


def _macros(parts: Mapping[str, bytes], where: str) -> list[str]:
    led = [one for one in relations(parts, WORKBOOK, where) if one.kind == "vbaproject"]
    targets = {one.target.casefold() for one in led}
    return [
        name
        for name, kind in types(parts, where).items()
        if kind == MACROS
        or name.casefold() in targets
        or name.casefold().endswith("vbaproject.bin")
    ]
