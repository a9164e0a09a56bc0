"""Opens a workbook file as hostile: bounded sizes, no document types, one clear error for all.

Contract: :func:`open_package` returns the parts of a spreadsheet package or raises
:class:`~pourbook.errors.FileUnreadableError`; it never writes, and never unpacks more than the
limits below. :func:`parse` reads one part as XML without entities and without the network.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path

from lxml import etree

from pourbook.errors import FileUnreadableError

LARGEST_FILE = 64 * 1024 * 1024
LARGEST_UNPACKED = 256 * 1024 * 1024
LARGEST_RATIO = 250
MOST_PARTS = 2_000
MOST_TAGS = 3_000_000
"""Of one part: more elements than this are no job's, and would take too much memory."""
_SMALL_PART = 1024 * 1024
_PIECE = 256 * 1024
_PACKED_AS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_XML = (".xml", ".rels", ".vml")
_ENCODING = re.compile(rb"""\s*<\?xml[^>]*?encoding\s*=\s*["']([^"']*)["']""")
_DOCUMENT_TYPE = re.compile(rb"<!(?:DOCTYPE|ENTITY)")
_UTF_8 = (b"utf-8", b"utf8", b"us-ascii", b"ascii")
_OTHER_MARKS = (b"\xff\xfe", b"\xfe\xff", b"\0", b"<\0", b"+/v")
_NAME = "name an .xlsx or .xlsm file that a spreadsheet program can open"
SAVE_ANEW = "open it in a spreadsheet program and save it anew"
_OPEN_DOCUMENT = b"application/vnd.oasis.opendocument"
_OLD_FORMAT = b"\xd0\xcf\x11\xe0"


def open_package(path: Path) -> Mapping[str, bytes]:
    """Read all parts of a spreadsheet package.

    Args:
        path: An ``.xlsx`` or ``.xlsm`` file.

    Raises:
        FileUnreadableError: It is missing, no workbook, damaged, encrypted or too large.
    """
    where = str(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise FileUnreadableError("this is a folder", "name a workbook", where)
        if not path.is_file():
            raise FileUnreadableError("this is no file, but a pipe or a device", _NAME, where)
        if size > LARGEST_FILE:
            raise FileUnreadableError("the file is too large to be a job workbook", "", where)
        with path.open("rb") as stream:
            start = stream.read(8)
    except FileNotFoundError:
        raise FileUnreadableError("there is no such file", "check the name", where) from None
    except OSError as error:
        mend = "close it in other programs and try again"
        raise FileUnreadableError(f"it cannot be opened ({error})", mend, where) from error
    if start.startswith(_OLD_FORMAT):
        mend = "take its password off, or save it as .xlsx"
        raise FileUnreadableError("it is locked by a password or an old .xls file", mend, where)
    try:
        with zipfile.ZipFile(path) as package:
            return _read(package, where)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError) as error:
        raise FileUnreadableError("it is no workbook", _NAME, where) from error
    except (OSError, RuntimeError, ValueError, zlib.error) as error:
        raise FileUnreadableError(f"it is damaged ({error})", "", where) from error


def _read(package: zipfile.ZipFile, where: str) -> dict[str, bytes]:
    parts = package.infolist()
    if len(parts) > MOST_PARTS:
        raise FileUnreadableError("it has far too many parts for a workbook", "", where)
    left = LARGEST_UNPACKED
    found: dict[str, bytes] = {}
    known: set[str] = set()
    for part in parts:
        if part.flag_bits & 1:
            raise FileUnreadableError("it is encrypted", "take its password off", where)
        if part.compress_type not in _PACKED_AS:
            raise FileUnreadableError("it is packed as no workbook is", SAVE_ANEW, where)
        if part.filename.casefold() in known:
            what = f"the part '{part.filename}' stands in it twice"
            raise FileUnreadableError(what, SAVE_ANEW, where)
        known.add(part.filename.casefold())
        content = _inflated(package, part, left)
        if content is None:
            raise FileUnreadableError("it unpacks to far more than a workbook holds", "", where)
        left -= len(content)
        found[part.filename] = content
    if found.get("mimetype", b"").startswith(_OPEN_DOCUMENT):
        mend = "open it in Calc and save it with File > Save As as Excel 2007-365 (.xlsx)"
        raise FileUnreadableError("this is an .ods file, and jobs are .xlsx files", mend, where)
    if "xl/workbook.xml" not in found:
        raise FileUnreadableError("it is no workbook", _NAME, where)
    for name, content in found.items():
        if name.lower().endswith(_XML):
            _refuse_odd_xml(name, content, where)
    return found


def _inflated(package: zipfile.ZipFile, part: zipfile.ZipInfo, left: int) -> bytes | None:
    """Return a part, None once it is more than may be left: counted as it comes, never believed."""
    most = min(left, max(_SMALL_PART, LARGEST_RATIO * part.compress_size))
    if part.file_size > most:
        return None
    pieces: list[bytes] = []
    with package.open(part) as stream:
        while piece := stream.read(_PIECE):
            most -= len(piece)
            if most < 0:
                return None
            pieces.append(piece)
    return b"".join(pieces)


def _refuse_odd_xml(name: str, content: bytes, where: str) -> None:
    """Refuse XML that has a document type, is no UTF-8, or has more elements than a job's part.

    In UTF-8 the bytes of a document type are those of its letters, so that looking is enough.
    """
    said = _ENCODING.match(content)
    if content.startswith(_OTHER_MARKS) or (said and said[1].lower() not in _UTF_8):
        what = f"it is damaged (the part '{name}' is not in UTF-8)"
        raise FileUnreadableError(what, SAVE_ANEW, where)
    if _DOCUMENT_TYPE.search(content):
        raise FileUnreadableError("it declares a document type, as no workbook does", "", where)
    if len(content) > MOST_TAGS < max(content.count(b"<"), content.count(b"=")):
        raise FileUnreadableError("it has far more cells than a job workbook", "", where)


def parse(content: bytes, where: str, called: str = "") -> etree._Element:
    """Read one part as XML; document types and entities are refused.

    Args:
        content: The part.
        where: What the file is called.
        called: What its outermost element has to be; anything if left out.

    Raises:
        FileUnreadableError: The part is damaged, another one, or declares a document type.
    """
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise FileUnreadableError(f"it is damaged ({error.msg})", "", where) from error
    if root.getroottree().docinfo.internalDTD is not None:
        raise FileUnreadableError("it declares a document type, as no workbook does", "", where)
    if called and root.tag != called:
        what = f"it is damaged (a part of it does not begin with {etree.QName(called).localname})"
        raise FileUnreadableError(what, SAVE_ANEW, where)
    return root
