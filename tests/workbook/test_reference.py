"""The generated reference pages are what the catalogue and the templates say now."""

from __future__ import annotations

import pytest

from pourbook import resources
from pourbook.workbook.tell import reference_pages


@pytest.mark.parametrize("name", sorted(reference_pages.pages()))
def test_page_is_current(name: str) -> None:
    stored = (resources.folder("workbook_templates") / name).read_text(encoding="utf-8")
    assert stored == reference_pages.pages()[name], (
        "renew it: python -m pourbook.workbook.tell.reference_pages"
    )
