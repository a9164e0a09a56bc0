"""The pages for people name commands, options, files and sheets that there are."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from pourbook.cli import MODULES, cli
from pourbook.workbook.template.template import load_book

ROOT = Path(__file__).parents[2]
PAGES = [
    *ROOT.glob("*.md"),
    *(ROOT / "shared").glob("*.md"),
    *(ROOT / "shared" / "docs").glob("*.md"),
]
SHEETS = {s.sheet for book in ("job", "shop", "month", "board") for s in load_book(book).sheets}


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _anchors(path: Path) -> set[str]:
    heads = re.findall(r"^#+ (.+)$", _text(path), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", head).strip().lower().replace(" ", "-") for head in heads}


def _leaf(words: list[str]) -> tuple[click.Command, str]:
    """Return the command that words call, and its name."""
    found: click.Command = cli
    said = []
    context = click.Context(cli)
    for word in words:
        if not isinstance(found, click.Group):
            break
        inner = found.get_command(context, word)
        assert inner is not None, f"pourbook {word}"
        found = inner
        said.append(word)
    return found, " ".join(said)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_a_link_leads_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", _text(page)):
        if re.match(r"https?:|mailto:", target):
            continue
        name, _, anchor = target.partition("#")
        file = (page.parent / name).resolve() if name else page
        assert file.exists(), target
        assert not anchor or anchor in _anchors(file), target


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_a_command_on_a_page_can_be_typed(page: Path) -> None:
    for line in re.findall(r"(?:`|^|bin/)pourbook ([a-z][^`\n]*)", _text(page), re.MULTILINE):
        found, name = _leaf(line.split())
        options = {o for p in found.params for o in (*p.opts, *p.secondary_opts)} | {"--help"}
        for option in re.findall(r"(?<!\S)--?[a-z][a-z-]*", line):
            assert option in options, f"pourbook {name} has no {option}"


def test_every_command_has_a_line() -> None:
    listed = re.findall(r"^\| `pourbook ([a-z-]+)", _text(ROOT / "shared/docs/commands.md"), re.M)
    assert set(listed) | {"addin", "demo"} == set(MODULES)


def test_a_page_for_each_who_works_with_it_is_named_on_the_first_screen() -> None:
    first = _text(ROOT / "README.md").partition("\n## ")[0]
    for name in ("estimator", "crew", "bookkeeper", "owner", "how-to", "commands"):
        assert f"shared/docs/{name}.md" in first


@pytest.mark.parametrize("role", ["estimator", "crew", "bookkeeper", "owner"])
def test_a_sheet_on_a_page_by_role_is_in_a_book(role: str) -> None:
    said = re.findall(r"(?<!\*)\*([A-Z][A-Za-z ]+)\*(?!\*)", _text(ROOT / f"shared/docs/{role}.md"))
    known = SHEETS | {"May split", "Fix first", "Working and curing"}
    known |= {"Figures are", "Finishes to price side by side", "On the quote"}
    known |= {"The range holds for", "Quotes lie off by", "Came to"}
    assert set(said) <= known
