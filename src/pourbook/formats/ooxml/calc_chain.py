"""Takes the order of calculation, which Excel keeps in a part of its own, out of a package.

Contract: pure. The part names cells with formulas; once one of them is a value, Excel would offer
to repair the file. Without the part Excel makes it anew.
"""

from __future__ import annotations

from pourbook.formats.ooxml import package, rewrite

PART = "xl/calcChain.xml"
_NAMED_IN = {"[Content_Types].xml": "PartName", "xl/_rels/workbook.xml.rels": "Target"}


def without(name: str, content: bytes) -> bytes | None:
    """Return a part of a package as it is in one without an order of calculation, None for that.

    Example:
        >>> rels = b'<Relationships><Relationship Target="calcChain.xml"/></Relationships>'
        >>> without("xl/_rels/workbook.xml.rels", rels).endswith(b"<Relationships/>")
        True
    """
    if name == PART:
        return None
    attribute = _NAMED_IN.get(name)
    if attribute is None or b"calcChain" not in content:
        return content
    root = package.parse(content, "")
    for entry in list(root):
        if str(entry.get(attribute, "")).endswith("calcChain.xml"):
            root.remove(entry)
    return rewrite.written(root)
