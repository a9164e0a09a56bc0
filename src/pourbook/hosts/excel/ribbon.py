"""The tab that a macro-enabled workbook shows in Excel: a button for each step of the work.

Contract: the part, where it lies and what leads to it ([MS-CUSTOMUI2]); every button calls the one
procedure of the module ``pourbook_ribbon`` with its own id. Untried in Excel.
"""

from __future__ import annotations

from functools import cache
from itertools import groupby

from lxml import etree

from pourbook.hosts.steps import WORK

PART = "customUI/customUI14.xml"
RELATION = "http://schemas.microsoft.com/office/2007/relationships/ui/extensibility"
SPACE = "http://schemas.microsoft.com/office/2009/07/customui"
CALLED = "PourbookStep"
PREFIX = "pb_"
"""What the id of a button has before the name of its step."""


@cache
def content() -> bytes:
    """Return the part."""
    root = etree.Element(f"{{{SPACE}}}customUI", nsmap={None: SPACE})  # type: ignore[dict-item]  # stubs lack it
    ribbon = etree.SubElement(root, f"{{{SPACE}}}ribbon")
    tabs = etree.SubElement(ribbon, f"{{{SPACE}}}tabs")
    named = {"id": "pourbook_tab", "label": "Pourbook", "insertAfterMso": "TabView"}
    tab = etree.SubElement(tabs, f"{{{SPACE}}}tab", named)
    for group, steps in groupby(WORK, key=lambda step: step.group):
        named = {"id": f"pourbook_{group.lower()}", "label": group}
        held = etree.SubElement(tab, f"{{{SPACE}}}group", named)
        for step in steps:
            named = {
                "id": PREFIX + step.name, "label": step.label, "supertip": step.said,
                "showImage": "false", "onAction": CALLED,
            }  # fmt: skip
            etree.SubElement(held, f"{{{SPACE}}}button", named)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True))
