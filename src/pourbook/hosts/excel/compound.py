"""Writes and reads compound files, the container a VBA project is stored in ([MS-CFB], version 3).

Contract: :func:`write` makes the same bytes from the same streams, without clock or chance.
:func:`read` takes the file as hostile: every chain is bounded by the size of the file, and what
does not hold together is a :class:`ValueError`.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass

Tree = Mapping[str, "bytes | Tree"]
_MAGIC = bytes.fromhex("d0cf11e0a1b11ae1")
_END, _FREE, _FAT, _NONE = 0xFFFFFFFE, 0xFFFFFFFF, 0xFFFFFFFD, 0xFFFFFFFF
_SECTOR, _MINI, _SMALL, _ENTRY = 512, 64, 4096, 128
_IN_HEADER = 109
_STORAGE, _STREAM, _ROOT = 1, 2, 5


@dataclass
class _Entry:
    """One entry of the directory."""

    name: str
    kind: int
    content: bytes = b""
    left: int = _NONE
    right: int = _NONE
    child: int = _NONE
    black: int = 1
    start: int = 0
    size: int = 0

    def packed(self) -> bytes:
        name = self.name.encode("utf-16-le")
        fields = (len(name) + 2, self.kind, self.black, self.left, self.right, self.child)
        return (
            name.ljust(64, b"\0")
            + struct.pack("<HBBIII", *fields)
            + bytes(36)  # class id, state bits, times
            + struct.pack("<IQ", self.start, self.size)
        )


def write(tree: Tree) -> bytes:
    """Return a compound file.

    Args:
        tree: Streams by name; a mapping is a storage.

    Raises:
        ValueError: It is too large for a file without further allocation tables (about 7 MB).
    """
    entries = [_Entry("Root Entry", _ROOT)]
    _add(entries, 0, tree)
    sectors: list[bytes] = []
    fat: list[int] = []

    def put(content: bytes, fill: bytes = b"\0") -> int:
        first = len(sectors)
        pieces = [content[i : i + _SECTOR] for i in range(0, len(content), _SECTOR)]
        sectors.extend(piece.ljust(_SECTOR, fill) for piece in pieces)
        fat.extend(range(first + 1, first + len(pieces)))
        if not pieces:
            return _END
        fat.append(_END)
        return first

    small = bytearray()
    small_fat: list[int] = []
    for entry in entries:
        if entry.kind != _STREAM:
            continue
        entry.size = len(entry.content)
        if not 0 < entry.size < _SMALL:
            entry.start = put(entry.content)
            continue
        entry.start = len(small_fat)
        count = -(-entry.size // _MINI)
        small_fat += [*range(entry.start + 1, entry.start + count), _END]
        small += entry.content.ljust(count * _MINI, b"\0")
    entries[0].start, entries[0].size = put(bytes(small)), len(small)
    table = struct.pack(f"<{len(small_fat)}I", *small_fat)
    small_first = put(table, b"\xff")
    unused = bytes(68) + struct.pack("<III", _NONE, _NONE, _NONE) + bytes(48)
    directory = put(b"".join(e.packed() for e in entries) + unused * (-len(entries) % 4))
    tables = 1
    while tables * _SECTOR // 4 < len(sectors) + tables:
        tables += 1
    if tables > _IN_HEADER:
        raise ValueError("too large for a compound file of this kind")
    places = list(range(len(sectors), len(sectors) + tables))
    fat += [_FAT] * tables
    fat += [_FREE] * (tables * _SECTOR // 4 - len(fat))
    small_tables = -(-len(table) // _SECTOR)
    header = (
        _MAGIC
        + bytes(16)
        + struct.pack("<HHHHH6x", 0x3E, 3, 0xFFFE, 9, 6)
        + struct.pack("<IIII", 0, tables, directory, 0)
        + struct.pack("<IIIII", _SMALL, small_first, small_tables, _END, 0)
        + struct.pack(f"<{_IN_HEADER}I", *places, *[_FREE] * (_IN_HEADER - tables))
    )
    return header + b"".join(sectors) + struct.pack(f"<{len(fat)}I", *fat)


def _add(entries: list[_Entry], parent: int, tree: Tree) -> None:
    places = []
    for name, content in tree.items():
        places.append(len(entries))
        if isinstance(content, Mapping):
            entries.append(_Entry(name, _STORAGE))
            _add(entries, places[-1], content)
        else:
            entries.append(_Entry(name, _STREAM, bytes(content)))
    places.sort(key=lambda i: (len(entries[i].name), entries[i].name.upper()))
    entries[parent].child = _balance(entries, places)


def _balance(entries: list[_Entry], places: list[int]) -> int:
    """Link siblings as a red-black tree: halved lists, the unfilled last level red."""
    depth = len(places).bit_length()
    full = len(places) == (1 << depth) - 1

    def link(part: list[int], level: int) -> int:
        if not part:
            return _NONE
        middle = len(part) // 2
        entry = entries[part[middle]]
        entry.left = link(part[:middle], level + 1)
        entry.right = link(part[middle + 1 :], level + 1)
        entry.black = int(level < depth or full)
        return part[middle]

    return link(places, 1)


def read(content: bytes) -> dict[str, bytes]:
    """Return the streams of a compound file by path, such as ``VBA/dir``.

    Raises:
        ValueError: It is no compound file, or damaged.
    """
    try:
        return _Reader(content).streams()
    except (struct.error, IndexError, UnicodeDecodeError) as error:
        raise ValueError(f"damaged compound file: {error}") from error


class _Reader:
    def __init__(self, content: bytes) -> None:
        if content[:8] != _MAGIC:
            raise ValueError("no compound file")
        self.content = content
        shift, small_shift = struct.unpack_from("<HH", content, 30)
        if shift not in {9, 12} or small_shift != 6:
            raise ValueError("odd sector size")
        self.size = 1 << shift
        self.most = len(content) // self.size + 1
        tables, self.directory = struct.unpack_from("<II", content, 44)
        self.small_first, _, further, count = struct.unpack_from("<IIII", content, 60)
        if further != _END or count or tables > _IN_HEADER:
            raise ValueError("larger than a VBA project is")
        self.fat: list[int] = []
        for place in struct.unpack_from(f"<{tables}I", content, 76):
            self.fat += struct.unpack(f"<{self.size // 4}I", self.sector(place))

    def sector(self, number: int) -> bytes:
        start = (number + 1) * self.size
        found = self.content[start : start + self.size]
        if len(found) != self.size:
            raise ValueError("a sector is missing")
        return found

    def chain(self, first: int, fat: list[int], most: int) -> list[int]:
        found: list[int] = []
        while first != _END:
            found.append(first)
            if len(found) > most:
                raise ValueError("a chain that never ends")
            first = fat[first]
        return found

    def whole(self, first: int) -> bytes:
        return b"".join(self.sector(n) for n in self.chain(first, self.fat, self.most))

    def streams(self) -> dict[str, bytes]:
        raw = self.whole(self.directory)
        rows = [raw[i : i + _ENTRY] for i in range(0, len(raw), _ENTRY)]
        table = self.whole(self.small_first)
        self.small_fat = list(struct.unpack(f"<{len(table) // 4}I", table))
        self.small = self.whole(struct.unpack_from("<I", rows[0], 116)[0])
        found: dict[str, bytes] = {}
        todo = [(struct.unpack_from("<I", rows[0], 76)[0], "")]
        seen: set[int] = set()
        while todo:
            number, path = todo.pop()
            if number == _NONE:
                continue
            if number in seen:
                raise ValueError("a directory that runs in circles")
            seen.add(number)
            row = rows[number]
            length, kind, _, left, right, child = struct.unpack_from("<HBBIII", row, 64)
            start, size = struct.unpack_from("<II", row, 116)
            name = path + row[: max(length - 2, 0)].decode("utf-16-le")
            todo += [(left, path), (right, path)]
            if kind == _STORAGE:
                todo.append((child, name + "/"))
            elif kind == _STREAM:
                found[name] = self.stream(start, size)
        return found

    def stream(self, start: int, size: int) -> bytes:
        if size >= _SMALL:
            return self.whole(start)[:size]
        if not size:
            return b""
        places = self.chain(start, self.small_fat, len(self.small_fat))
        return b"".join(self.small[p * _MINI : (p + 1) * _MINI] for p in places)[:size]
