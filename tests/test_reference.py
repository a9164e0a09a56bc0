"""The generated reference pages are what the catalogue and the templates say now."""

from __future__ import annotations

import pytest

from pourbook import reference, resources


@pytest.mark.parametrize("name", sorted(reference.pages()))
def test_page_is_current(name: str) -> None:
    stored = (resources.folder("workbook_templates") / name).read_text(encoding="utf-8")
    assert stored == reference.pages()[name], "renew it: python -m pourbook.reference"
