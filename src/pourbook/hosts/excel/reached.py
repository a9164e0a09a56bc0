"""The procedures of a VBA module that others reach, and no more of it.

Contract: :func:`reached` keeps all that stands outside procedures (notice, declarations,
constants), every procedure that is named by what is kept, and leaves the others out. A word in a
text counts as a name, one in a comment does not, so nothing that could be called is missing.
"""

from __future__ import annotations

import re

_BEGINS = re.compile(r"(?:(?:Public|Private) )?(Function|Sub) (\w+)\b", re.IGNORECASE)
_ENDS = re.compile(r"End (?:Function|Sub)\b", re.IGNORECASE)
_WORD = re.compile(r"[A-Za-z]\w*")
_TEXT_OR_COMMENT = re.compile(r"\"[^\"]*\"|('.*)$")


def reached(module: str, roots: str) -> str:
    r"""Return a module without the procedures that nothing reaches.

    Args:
        module: The text of the module.
        roots: The text of what calls into it.

    Example:
        >>> print(reached("Const A = 1\nSub One()\nTwo\nEnd Sub\nSub Two()\nEnd Sub\n"
        ...               "Sub Three()\nEnd Sub\n", "Two"))
        Const A = 1
        Sub Two()
        End Sub
    """
    parts = _parts(module)
    named = _words(roots)
    for name, lines in parts:
        if not name:
            named |= _words("\n".join(lines))
    kept: set[str] = set()
    while True:
        new = {name for name, _ in parts if name and name.lower() in named} - kept
        if not new:
            break
        kept |= new
        for name, lines in parts:
            if name in new:
                named |= _words("\n".join(lines))
    found = [line for name, lines in parts if not name or name in kept for line in lines]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(found)).rstrip("\n")


def _parts(module: str) -> list[tuple[str, list[str]]]:
    """Return procedures by their name, and what stands between them without one.

    A procedure may have two heads, one for each case of an ``#If`` that stands before it.
    """
    parts: list[tuple[str, list[str]]] = [("", [])]
    lines = module.splitlines()
    inside = False
    for at, line in enumerate(lines):
        head = _BEGINS.match(line)
        follows = _BEGINS.match(lines[at + 1]) if at + 1 < len(lines) else None
        opens = line.startswith("#If ") and follows
        if not inside and (head or opens):
            found = head or follows
            assert found is not None
            parts.append((found[2], []))
            inside = True
        parts[-1][1].append(line)
        if inside and _ENDS.match(line):
            parts.append(("", []))
            inside = False
    return parts


def _words(text: str) -> set[str]:
    bare = (_TEXT_OR_COMMENT.sub(_without_comment, line) for line in text.splitlines())
    return {word.lower() for line in bare for word in _WORD.findall(line)}


def _without_comment(found: re.Match[str]) -> str:
    return "" if found[1] else found[0]
