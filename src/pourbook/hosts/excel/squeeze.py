"""The compression of VBA sources ([MS-OVBA] 2.4.1), both ways.

Contract: :func:`decompress` undoes :func:`compress`; what makes no sense is a
:class:`ValueError`, and nothing unpacks to more than :data:`LARGEST`.
"""

from __future__ import annotations

import struct
from collections import defaultdict

LARGEST = 4 * 1024 * 1024
_CHUNK = 4096
_SHORTEST = 3
_MARK = 1


def _bits(position: int) -> int:
    """Return how many bits of a token tell how far back it copies from."""
    return min(max((position - 1).bit_length(), 4), 12)


def compress(content: bytes) -> bytes:
    """Return a source as a compressed container.

    Raises:
        ValueError: A chunk does not get smaller, as no source text does.
    """
    found = bytearray([_MARK])
    for start in range(0, len(content), _CHUNK):
        packed = _compress_chunk(content[start : start + _CHUNK])
        if len(packed) > _CHUNK:
            raise ValueError("the source does not compress")
        found += struct.pack("<H", 0xB000 | (len(packed) - 1)) + packed
    return bytes(found)


def _compress_chunk(chunk: bytes) -> bytes:
    seen: defaultdict[bytes, list[int]] = defaultdict(list)
    packed = bytearray()
    at = 0
    while at < len(chunk):
        flags, group = 0, bytearray()
        for bit in range(8):
            if at >= len(chunk):
                break
            bits = _bits(at)
            longest = min((0xFFFF >> bits) + _SHORTEST, len(chunk) - at)
            length, origin = _match(chunk, at, longest, seen[chunk[at : at + _SHORTEST]])
            if length >= _SHORTEST:
                token = (at - origin - 1) << (16 - bits) | (length - _SHORTEST)
                group += struct.pack("<H", token)
                flags |= 1 << bit
            else:
                group.append(chunk[at])
                length = 1
            for place in range(at, at + length):
                seen[chunk[place : place + _SHORTEST]].append(place)
            at += length
        packed.append(flags)
        packed += group
    return bytes(packed)


def _match(chunk: bytes, at: int, longest: int, places: list[int]) -> tuple[int, int]:
    """Return the longest earlier run, the nearest of equal ones, and where it begins."""
    best, origin = 0, 0
    for place in reversed(places):
        length = 0
        while length < longest and chunk[place + length] == chunk[at + length]:
            length += 1
        if length > best:
            best, origin = length, place
            if length == longest:
                break
    return best, origin


def decompress(content: bytes) -> bytes:
    """Return what a compressed container holds.

    Raises:
        ValueError: It is no such container, damaged or too large.
    """
    if content[:1] != bytes([_MARK]):
        raise ValueError("no compressed source")
    found = bytearray()
    at = 1
    try:
        while at < len(content):
            (header,) = struct.unpack_from("<H", content, at)
            end = min(at + (header & 0xFFF) + 3, len(content))
            if header & 0x8000:
                _decompress_chunk(content, at + 2, end, found)
            else:
                found += content[at + 2 : end]
            if len(found) > LARGEST:
                raise ValueError("a source far too large")
            at = end
    except (struct.error, IndexError) as error:
        raise ValueError(f"damaged source: {error}") from error
    return bytes(found)


def _decompress_chunk(content: bytes, at: int, end: int, found: bytearray) -> None:
    base = len(found)
    while at < end:
        flags = content[at]
        at += 1
        for bit in range(8):
            if at >= end:
                return
            if flags >> bit & 1:
                (token,) = struct.unpack_from("<H", content, at)
                at += 2
                bits = _bits(len(found) - base)
                back = (token >> (16 - bits)) + 1
                for _ in range((token & (0xFFFF >> bits)) + _SHORTEST):
                    found.append(found[-back])
            else:
                found.append(content[at])
                at += 1
