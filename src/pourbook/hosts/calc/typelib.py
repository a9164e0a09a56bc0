"""Writes the type library that tells LibreOffice which functions an add-in has.

Contract: :func:`interface_library` gives the bytes of a UNO type library (``.rdb``, format version
0) with one interface. LibreOffice's own tool for it comes with an SDK few people have; the format
is the one that tool writes: a magic, where the root is, and then from the inside out the interface,
its modules and the root. Names and types are stored once and pointed at after that.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import NamedTuple

MAGIC = b"UNOIDL\xff\0"
_BANNER = b"** Created by Pourbook **\0"
_INTERFACE = 5
_MODULE = 0
_IN = 0
_SEEN_BEFORE = 0x80000000


class Parameter(NamedTuple):
    """A parameter of a method; ``type`` is a UNO type such as ``any``."""

    name: str
    type: str


class Method(NamedTuple):
    """A method of the interface; ``result`` is a UNO type, a sequence written ``[]any``."""

    name: str
    result: str
    parameters: tuple[Parameter, ...]


def interface_library(
    name: str, methods: Sequence[Method], base: str = "com.sun.star.uno.XInterface"
) -> bytes:
    r"""Return a type library that holds one interface.

    Args:
        name: The interface's full name, such as ``org.pourbook.XFunctions``.
        methods: Its methods, in order.
        base: The interface it builds on.

    Example:
        >>> interface_library("org.x.XOne", [Method("one", "any", ())])[:7]
        b'UNOIDL\xff'
    """
    out = _Library()
    place = len(out.content)
    out.byte(_INTERFACE)
    out.number(1)
    out.text(base)
    out.number(0)  # no optional bases
    out.number(0)  # no attributes
    out.number(len(methods))
    for method in methods:
        out.text(method.name)
        out.text(method.result)
        out.number(len(method.parameters))
        for parameter in method.parameters:
            out.byte(_IN)
            out.text(parameter.name)
            out.text(parameter.type)
        out.number(0)  # no exceptions
    return out.enclosed(name.split("."), place)


class _Library:
    """The bytes written so far."""

    def __init__(self) -> None:
        self.content = bytearray(MAGIC + bytes(8) + b"\0" + _BANNER)
        self._places: dict[bytes, int] = {}

    def byte(self, value: int) -> None:
        self.content.append(value)

    def number(self, value: int) -> None:
        self.content += struct.pack("<I", value)

    def text(self, value: str) -> None:
        raw = value.encode("ascii")
        if raw in self._places:
            self.number(self._places[raw] | _SEEN_BEFORE)
            return
        self._places[raw] = len(self.content)
        self.number(len(raw))
        self.content += raw

    def enclosed(self, parts: Sequence[str], place: int) -> bytes:
        """Put what lies at ``place`` into its modules, and those into the root."""
        for depth in range(len(parts) - 1, -1, -1):
            label = len(self.content)
            self.content += parts[depth].encode("ascii") + b"\0"
            entry = struct.pack("<II", label, place)
            place = len(self.content)
            if depth:
                self.byte(_MODULE)
                self.number(1)
            self.content += entry
        self.content[len(MAGIC) : len(MAGIC) + 8] = struct.pack("<II", place, 1)
        return bytes(self.content)
