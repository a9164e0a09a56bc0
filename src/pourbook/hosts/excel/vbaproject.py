"""Writes and reads the VBA project of a macro-enabled workbook ([MS-OVBA]).

Contract: :func:`write` makes a source-only project: no performance cache, version 0xFFFF, every
module's text at offset 0, as the specification asks of every program but Office; Excel compiles
from the text. Same input, same bytes. :func:`read` gives the sources of any project back, also of
one that Excel has saved; what makes no sense is a :class:`ValueError`.
"""

from __future__ import annotations

import re
import struct
import uuid
from collections.abc import Mapping, Sequence
from typing import Literal

from pourbook.hosts.excel import compound, squeeze
from pourbook.records import dataclass

Kind = Literal["standard", "class", "book", "sheet", "chart"]
CODE_PAGE = "cp1252"
NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,30}")
_BASES = {
    "book": "0{00020819-0000-0000-C000-000000000046}",
    "sheet": "0{00020820-0000-0000-C000-000000000046}",
    "chart": "0{00020821-0000-0000-C000-000000000046}",
}
_REFERENCES = (
    (
        "stdole",
        r"*\G{00020430-0000-0000-C000-000000000046}#2.0#0#C:\Windows\System32\stdole2.tlb"
        "#OLE Automation",
    ),
    (
        "Office",
        r"*\G{2DF8D04C-5BFA-101B-BDE5-00AA0044DE52}#2.0#0#C:\Program Files\Common Files"
        r"\Microsoft Shared\OFFICE16\MSO.DLL#Microsoft Office 16.0 Object Library",
    ),
)
_PROJECT = "VBAProject"
_SEED = 0x10
_SIZE_RECORDS = {0x09: 6}  # the version record counts only four of its six bytes


@dataclass(frozen=True)
class Module:
    """One module: a standard one with its text, or the one that stands for the book or a sheet."""

    name: str
    kind: Kind
    source: str = ""

    def text(self) -> str:
        """Return the source as the project stores it.

        Raises:
            ValueError: A standard module does not begin with its own name.
        """
        if self.kind in _BASES:
            return "".join(
                f"Attribute VB_{name} = {value}\r\n"
                for name, value in (
                    ("Name", f'"{self.name}"'),
                    ("Base", f'"{_BASES[self.kind]}"'),
                    ("GlobalNameSpace", "False"),
                    ("Creatable", "False"),
                    ("PredeclaredId", "True"),
                    ("Exposed", "True"),
                    ("TemplateDerived", "False"),
                    ("Customizable", "True"),
                )
            )
        if not self.source.startswith(f'Attribute VB_Name = "{self.name}"'):
            raise ValueError(f"module {self.name} must begin with its Attribute VB_Name")
        return re.sub("\r?\n", "\r\n", self.source)


_NO_CODE = bytes.fromhex("cc61ffff000100")
"""The stream _VBA_PROJECT without a cache of compiled code (2.3.4.1)."""
_OFFSET = 0x31
"""The record that says where in its stream the text of a module begins, behind compiled code."""


def write(modules: Sequence[Module]) -> bytes:
    """Return the content of a ``vbaProject.bin``.

    Args:
        modules: The book, each sheet in order, then the standard modules.

    Raises:
        ValueError: A name is not one of VBA, or is there twice.
    """
    for module in modules:
        if not NAME.fullmatch(module.name):
            raise ValueError(f"not a name of VBA: {module.name!r}")
    if len({m.name.lower() for m in modules}) != len(modules):
        raise ValueError("two modules have one name")
    names = "|".join(m.name for m in modules)
    project_id = f"{{{uuid.uuid5(uuid.NAMESPACE_OID, names)}}}".upper()
    wide = (
        m.name.encode(CODE_PAGE) + b"\0" + m.name.encode("utf-16-le") + b"\0\0" for m in modules
    )
    vba = {m.name: squeeze.compress(m.text().encode(CODE_PAGE)) for m in modules}
    vba["_VBA_PROJECT"] = _NO_CODE
    vba["dir"] = squeeze.compress(_directory(modules))
    return compound.write(
        {
            "VBA": vba,
            "PROJECT": _project(modules, project_id),
            "PROJECTwm": b"".join(wide) + b"\0\0",
        }
    )


def _record(number: int, content: bytes = b"") -> bytes:
    return struct.pack("<HI", number, len(content)) + content


def _twice(number: int, wide: int, text: str) -> bytes:
    return _record(number, text.encode(CODE_PAGE)) + _record(wide, text.encode("utf-16-le"))


def _directory(modules: Sequence[Module]) -> bytes:
    """Return the dir stream (2.3.4.2), before compression."""
    found = b"".join(
        (
            _record(0x01, struct.pack("<I", 3)),  # 64-bit Windows
            _record(0x02, struct.pack("<I", 0x409)),
            _record(0x14, struct.pack("<I", 0x409)),
            _record(0x03, struct.pack("<H", 1252)),
            _record(0x04, _PROJECT.encode(CODE_PAGE)),
            _twice(0x05, 0x40, ""),
            _twice(0x06, 0x3D, ""),
            _record(0x07, struct.pack("<I", 0)),
            _record(0x08, struct.pack("<I", 0)),
            struct.pack("<HIIH", 0x09, 4, 1, 1),
            _twice(0x0C, 0x3C, ""),
        )
    )
    for name, library in _REFERENCES:
        told = library.encode(CODE_PAGE)
        found += _twice(0x16, 0x3E, name)
        found += _record(0x0D, struct.pack("<I", len(told)) + told + bytes(6))
    found += _record(0x0F, struct.pack("<H", len(modules))) + _record(0x13, b"\xff\xff")
    for module in modules:
        found += b"".join(
            (
                _twice(0x19, 0x47, module.name),
                _twice(0x1A, 0x32, module.name),
                _twice(0x1C, 0x48, ""),
                _record(0x31, struct.pack("<I", 0)),
                _record(0x1E, struct.pack("<I", 0)),
                _record(0x2C, b"\xff\xff"),
                _record(0x21 if module.kind == "standard" else 0x22),
                _record(0x2B),
            )
        )
    return found + _record(0x10)


def _project(modules: Sequence[Module], project_id: str) -> bytes:
    """Return the PROJECT stream (2.3.1)."""
    shapes = {"standard": "Module={}", "class": "Class={}"}
    lines = [
        f'ID="{project_id}"',
        *(shapes.get(m.kind, "Document={}/&H00000000").format(m.name) for m in modules),
        f'Name="{_PROJECT}"',
        'HelpContextID="0"',
        'VersionCompatible32="393222000"',
        f'CMG="{_hidden(project_id, bytes(4))}"',
        f'DPB="{_hidden(project_id, bytes(1))}"',
        f'GC="{_hidden(project_id, bytes([255]))}"',
        "",
        "[Host Extender Info]",
        "&H00000001={3832D640-CF90-11CF-8E43-00A0C911005A};VBE;&H00000000",
        "",
        "[Workspace]",
        *(f"{m.name}=0, 0, 0, 0, C" for m in modules),
        "",
    ]
    return "\r\n".join(lines).encode(CODE_PAGE)


def _hidden(project_id: str, content: bytes) -> str:
    """Return a value of the PROJECT stream as 2.4.3.2 obscures it; none of ours is secret."""
    key = sum(project_id.encode("ascii")) & 0xFF
    found = [_SEED, _SEED ^ 2, _SEED ^ key]
    plain, older, newer = key, _SEED ^ 2, _SEED ^ key
    ignored = bytes([7] * ((_SEED & 6) // 2))
    for byte in ignored + struct.pack("<I", len(content)) + content:
        coded = byte ^ (older + plain & 0xFF)
        found.append(coded)
        older, newer, plain = newer, coded, byte
    return bytes(found).hex().upper()


def read(content: bytes) -> dict[str, str]:
    """Return the source of every module of a project by its name.

    Raises:
        ValueError: It is no VBA project, or damaged.
    """
    streams = compound.read(content)
    if "VBA/dir" not in streams:
        raise ValueError("no VBA project")
    found: dict[str, str] = {}
    name = stream = ""
    try:
        for number, part in _records(squeeze.decompress(streams["VBA/dir"])):
            if number == 0x19:
                name = part.decode(CODE_PAGE)
            elif number == 0x1A:
                stream = part.decode(CODE_PAGE)
            elif number == _OFFSET:
                (offset,) = struct.unpack("<I", part)
                packed = streams[f"VBA/{stream}"][offset:]
                found[name] = squeeze.decompress(packed).decode(CODE_PAGE)
    except (struct.error, KeyError, UnicodeDecodeError) as error:
        raise ValueError(f"damaged VBA project: {error}") from error
    return found


def is_text_alone(content: bytes) -> bool:
    """Return whether a project holds the text of its modules and no code compiled from it.

    Raises:
        ValueError: It is no VBA project, or damaged.
    """
    streams = compound.read(content)
    if streams.get("VBA/_VBA_PROJECT") != _NO_CODE or any("__SRP_" in name for name in streams):
        return False
    records = _records(squeeze.decompress(streams.get("VBA/dir", b"")))
    return not any(any(part) for number, part in records if number == _OFFSET)


def _records(content: bytes) -> Sequence[tuple[int, bytes]]:
    found = []
    at = 0
    while at + 6 <= len(content):
        number, size = struct.unpack_from("<HI", content, at)
        size = _SIZE_RECORDS.get(number, size)
        found.append((number, content[at + 6 : at + 6 + size]))
        at += 6 + size
    return found


def comparable(sources: Mapping[str, str]) -> dict[str, str]:
    r"""Return what modules say, whatever their spaces, capitals and attributes.

    The editor of VBA respaces and recases what it is given, and keeps descriptions as attributes.

    Example:
        >>> comparable({"M": 'Attribute VB_Name = "M"\r\nSub  A()\r\nEnd Sub\r\n'})
        {'m': 'suba()endsub'}
    """
    found = {}
    for name, source in sources.items():
        lines = (line for line in source.splitlines() if not line.startswith("Attribute "))
        found[name.casefold()] = "".join("".join(line.split()) for line in lines).casefold()
    return found
