"""Words of the trade on every sheet, card, message and paper: none of those on the left is there.

A word is looked for where a person may read it: every heading, help, note, label and formula text
of the templates, and every string of the program that is no docstring.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAY: Mapping[str, str] = {
    r"[Tt]ake-up": "soak-in",
    r"\bSpread$|no spread\b|\b[Aa] (larger )?spread\b": "coverage",
    r"[Ss]trew": "broadcast",
    r"[Ll]eft in (the )?buckets?$": "bucket hold-back",
    r"first contact": "start of mixing",
    r"[Hh]ard use": "full cure",
    r"\b(to|To|!) mend\b|\bmend (it|them|these|that|the|its)\b": "fix",
    r"[Cc]lear(ing)? up": "clean-up",
    r"[Ss]tands until": "good through",
    r"^[Ss]plash(es)?\b|\b[Aa] splash\b": "backsplash",
    r"\brank(s|ed)?\b": "pour order",
    r"\b[Cc]omes? to (used|what|the same)\b|^Comes to$": "adds up",
    r"^Rate$": "thickness, where it is a difference",
    r"all sense|is no order|stands twice|no way in|[Rr]eckon|ended Pourbook": "as people do",
}
"""What is not said, and what is."""
_SILENT = {"id", "like", "offers", "function", "within", "of_guest"}
"""What of a template nobody reads."""
_INSIDE = {"splash", "rank", "splash run", "splash height"} | {
    *("first contact", "Strew", "hard use", "How to mend"),
}
"""Names of columns and figures inside the program, headings of older CSV files, and what
sheets and cards of templates 1 say, which are worked out as they were."""


def _of_toml(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key not in _SILENT:
                yield from _of_toml(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _of_toml(inner)
    elif isinstance(value, str):
        yield re.sub(r"\{[^}]*\}", "", value)


def _of_python(source: str) -> Iterator[str]:
    tree = ast.parse(source)
    silent = {
        id(line.value)
        for node in ast.walk(tree)
        if isinstance(body := getattr(node, "body", None), list)
        for line in body
        if isinstance(line, ast.Expr)
    }
    for node in ast.walk(tree):
        said = node.value if isinstance(node, ast.Constant) and id(node) not in silent else None
        if isinstance(said, str) and said not in _INSIDE:
            yield said


def _read() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "workbook_templates").rglob("*.toml")):
        for said in _of_toml(tomllib.loads(path.read_text("utf-8"))):
            yield path.name, said
    for path in sorted((ROOT / "src").rglob("*.py")):
        for said in _of_python(path.read_text("utf-8")):
            yield path.name, said
    for path in sorted((ROOT / "shared" / "docs").rglob("*.md")):
        for said in path.read_text("utf-8").split("\n"):
            yield path.name, re.sub(r"\| .* \|", "", said)


@pytest.fixture(scope="module")
def texts() -> list[tuple[str, str]]:
    found = list(_read())
    assert len(found) > 5000
    return found


@pytest.mark.parametrize("word", SAY)
def test_words_of_the_trade(word: str, texts: list[tuple[str, str]]) -> None:
    wrong = [(name, said[:90]) for name, said in texts if re.search(word, said)]
    assert not wrong, f"say: {SAY[word]}"


def test_a_text_with_a_wrong_word_is_found() -> None:
    assert list(_of_toml({"id": "rank", "header": "Take-up {rooms.splash}"})) == ["Take-up "]
    assert list(_of_python('"""Reckon."""\nx = "no hard use"')) == ["no hard use"]
