"""A copy of a workbook in which Pourbook's functions are values and every other formula is live.

Contract: :func:`without_functions` changes only cells whose formula calls a worksheet function of
the catalogue; their cached values stay, their formulas go. It is what a spreadsheet program without
Pourbook can recompute from end to end.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

from lxml import etree

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_OURS = re.compile(r"\bPB_[A-Z]+\(", re.IGNORECASE)


def without_functions(source: Path, target: Path) -> int:
    """Copy a workbook, leaving values where Pourbook's functions stood.

    Args:
        source: A workbook with cached values.
        target: Where to write the copy.

    Returns:
        How many formulas became values.
    """
    changed = 0
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename.startswith("xl/worksheets/sheet"):
                root = etree.fromstring(content)
                for cell in root.iter(_Q + "c"):
                    formula = cell.find(_Q + "f")
                    if formula is not None and _OURS.search(formula.text or ""):
                        cell.remove(formula)
                        changed += 1
                content = etree.tostring(
                    root, xml_declaration=True, encoding="UTF-8", standalone=True
                )
            new.writestr(item, content)
    return changed
