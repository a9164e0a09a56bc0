"""The macros a Pourbook workbook carries, and how to tell them from anybody else's.

Contract: three standard modules and nothing else: ``xlwings``, of the standalone module of xlwings
its BSD notice, its declarations and what the others reach, so that a virus scanner sees no more;
``xlwings_udfs``, which xlwings generates from :mod:`pourbook.hosts.excel.udfs`; and what the
buttons of the tab call, ``pourbook_ribbon``. All lie whole beside this file as text; a test
generates the second anew and compares.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from pourbook.hosts.excel import vbaproject
from pourbook.hosts.excel.reached import reached
from pourbook.hosts.excel.vbaproject import Module

MODULES = ("xlwings", "xlwings_udfs", "pourbook_ribbon")
_WITHOUT_TAB = MODULES[:2]
"""Those of jobs made before there was a tab."""
_SAID = "'Of the module of xlwings, what Pourbook's functions call; the rest is left out."


RELEASED = {"1": "358503e6c30e93e0c6302c08065fcb2439f4a57b61d1c380fb170bc6e1e96d1f"}
"""SHA-256 of what the macros of released templates say, by the version of the templates."""


@cache
def sources() -> dict[str, str]:
    """Return the text of each standard module by its name."""
    library, calls, tab = (
        (Path(__file__).parent / f"{name}.bas").read_text(encoding="ascii") for name in MODULES
    )
    attribute, _, rest = reached(library, calls + tab).partition("\n")
    return dict(zip(MODULES, (f"{attribute}\n{_SAID}\n{rest}\n", calls, tab), strict=True))


def project(documents: Sequence[Module]) -> bytes:
    """Return the VBA project of a workbook.

    Args:
        documents: The modules of the book and of its sheets, by their code names.
    """
    standard = [Module(name, "standard", text) for name, text in sources().items()]
    return vbaproject.write([*documents, *standard])


def are_current(content: bytes, version: str = "") -> bool:
    """Return whether a VBA project holds the macros of this Pourbook, or those of a release.

    Args:
        content: The project.
        version: Of the templates of its workbook; a job of a release keeps that release's macros.
            Left out, only this Pourbook's will do.
    """
    found = _only_ours(content)
    if found == vbaproject.comparable(sources()):
        return True
    return found is not None and _digest(found) == RELEASED.get(version)


def _digest(modules: Mapping[str, str]) -> str:
    return hashlib.sha256(
        "\n".join(f"{k}={modules[k]}" for k in sorted(modules)).encode()
    ).hexdigest()


def are_pourbooks(content: bytes) -> bool:
    """Return whether a VBA project holds modules named as ours, of any version, and no others."""
    return set(_only_ours(content) or ()) in (set(MODULES), set(_WITHOUT_TAB))


def are_compiled(content: bytes) -> bool:
    """Return whether a project carries code a program compiled, beside its text.

    Excel adds it whenever it saves, and runs it where it fits: only the text can be read here.
    """
    try:
        return not vbaproject.is_text_alone(content)
    except ValueError:
        return True


def _only_ours(content: bytes) -> dict[str, str] | None:
    """Return the modules that say anything; None for what is no project."""
    try:
        found = vbaproject.comparable(vbaproject.read(content))
    except ValueError:
        return None
    return {name: said for name, said in found.items() if said not in {"", "optionexplicit"}}
