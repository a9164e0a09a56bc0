"""Where Pourbook's own templates and reference data lie, in a checkout or in an installed wheel.

Contract: :func:`folder` returns an existing folder, or raises :class:`TemplateError`.
"""

from __future__ import annotations

from pathlib import Path

from pourbook.errors import TemplateError

_PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """Return the folder ``workbook_templates`` or ``shared``.

    Args:
        name: ``"workbook_templates"`` or ``"shared"``.

    Raises:
        TemplateError: The installation is incomplete.

    Example:
        >>> (folder("shared") / "units.txt").exists()
        True
    """
    for root in (_PACKAGE / "_data", _PACKAGE.parents[1]):
        if (root / name).is_dir():
            return root / name
    raise TemplateError(f"the folder '{name}' is missing", "install Pourbook again", str(_PACKAGE))
