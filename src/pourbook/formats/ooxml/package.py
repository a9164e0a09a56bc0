"""Opens a workbook file as hostile: bounded sizes, no document types, one clear error for all.

Contract: :func:`open_package` returns the parts of a spreadsheet package or raises
:class:`~pourbook.errors.FileUnreadableError`; it never writes, and never unpacks more than the
limits below. :func:`parse` reads one part as XML without entities and without the network.
"""

from __future__ import annotations

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
_SMALL_PART = 1024 * 1024
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
        mend = "name an .xlsx or .xlsm file that a spreadsheet program can open"
        raise FileUnreadableError("it is no workbook", mend, where) from error
    except (OSError, RuntimeError, ValueError, zlib.error) as error:
        raise FileUnreadableError(f"it is damaged ({error})", "", where) from error


def _read(package: zipfile.ZipFile, where: str) -> dict[str, bytes]:
    parts = package.infolist()
    if len(parts) > MOST_PARTS:
        raise FileUnreadableError("it has far too many parts for a workbook", "", where)
    unpacked = 0
    found: dict[str, bytes] = {}
    for part in parts:
        if part.flag_bits & 1:
            raise FileUnreadableError("it is encrypted", "take its password off", where)
        unpacked += part.file_size
        swollen = part.file_size > _SMALL_PART and (
            part.file_size > LARGEST_RATIO * max(part.compress_size, 1)
        )
        if unpacked > LARGEST_UNPACKED or swollen:
            raise FileUnreadableError("it unpacks to far more than a workbook holds", "", where)
        found[part.filename] = package.read(part)
    if found.get("mimetype", b"").startswith(_OPEN_DOCUMENT):
        mend = "open it in Calc and save it with File > Save As as Excel 2007-365 (.xlsx)"
        raise FileUnreadableError("this is an .ods file, and jobs are .xlsx files", mend, where)
    if "xl/workbook.xml" not in found:
        mend = "name an .xlsx or .xlsm file that a spreadsheet program can open"
        raise FileUnreadableError("it is no workbook", mend, where)
    return found


def parse(content: bytes, where: str) -> etree._Element:
    """Read one part as XML; document types and entities are refused.

    Raises:
        FileUnreadableError: The part is damaged or declares a document type.
    """
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise FileUnreadableError(f"it is damaged ({error.msg})", "", where) from error
    if b"<!DOCTYPE" in content:
        raise FileUnreadableError("it declares a document type, as no workbook does", "", where)
    return root
