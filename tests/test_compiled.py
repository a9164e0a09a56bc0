"""What is kept beside the compiled modules: never stale, never damaged, never needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pourbook import compiled
from pourbook.hosts.headless.program import Known
from pourbook.units import SYSTEMS
from pourbook.workbook.layout import lay_out
from pourbook.workbook.layout.laid_out import PlannedCell
from pourbook.workbook.template.template import load_book


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own to keep in, which Python may write to."""
    monkeypatch.setattr(compiled, "_folder", lambda: tmp_path / "__pycache__")
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return tmp_path / "__pycache__"


def counted(made: list[int]) -> int:
    made.append(1)
    return 41 + len(made)


def test_what_was_made_is_made_once(place: Path) -> None:
    made: list[int] = []
    found = [compiled.kept("a", lambda: counted(made)) for _ in range(3)]
    assert found == [42, 42, 42]
    assert len(made) == 1


@pytest.mark.parametrize("content", [b"", b"x" * 100, None])
def test_what_is_damaged_is_made_again(place: Path, content: bytes | None) -> None:
    compiled.kept("a", lambda: 1)
    (file,) = place.glob("*.bin")
    whole = file.read_bytes()
    file.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]) if content is None else content)
    assert compiled.kept("a", lambda: 2) == 2
    assert compiled.kept("a", lambda: 3) == 2


def test_what_another_state_of_the_program_kept_is_not_read(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compiled.kept("a", lambda: 1)
    monkeypatch.setattr(compiled, "state", lambda: "f" * 16)
    assert compiled.kept("a", lambda: 2) == 2
    assert len([*place.glob("*.bin")]) == 1


def test_a_changed_file_is_another_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "folder", lambda _: tmp_path)
    (tmp_path / "sheet.toml").write_text("a", encoding="utf-8")
    states = []
    for text in ("a", "bb"):
        (tmp_path / "sheet.toml").write_text(text, encoding="utf-8")
        states.append(compiled.state.__wrapped__())
    os.utime(tmp_path / "sheet.toml", (1, 1))
    assert len({*states, compiled.state.__wrapped__()}) == 3


@pytest.mark.parametrize("why", ["told", "taken"])
def test_nothing_is_kept_where_nothing_can_be(
    place: Path, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if why == "told":
        monkeypatch.setattr(sys, "dont_write_bytecode", True)
    else:
        place.write_text("a file where the folder should be", encoding="utf-8")
    assert compiled.kept("a", lambda: 1) == 1
    assert compiled.kept("a", lambda: 2) == 2


def test_what_cannot_be_put_in_place_leaves_nothing(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise PermissionError("another program reads it")

    monkeypatch.setattr(Path, "replace", refused)
    assert compiled.kept("a", lambda: 1) == 1
    assert [*place.iterdir()] == []


def test_only_so_many_are_kept(place: Path) -> None:
    for number in range(compiled.MOST + 5):
        compiled.kept(f"{number}", lambda: 1)
    assert len([*place.glob("*.bin")]) == compiled.MOST


def test_a_layout_that_was_kept_is_the_one_that_is_made(place: Path) -> None:
    made = lay_out.plan_book(load_book("job"), SYSTEMS["us"], 20)
    for _ in range(2):
        lay_out.lay_out.cache_clear()
        plan = lay_out.lay_out("job", "us", 20)
        assert plan.cells == made.cells
        assert {type(cell) for cell in plan.cells} == {PlannedCell}
        assert plan.program == made.program
        assert {type(one) for ours in plan.program.at.values() for one in ours.values()} == {Known}
        assert plan.places == made.places
        assert plan.book == made.book
        assert plan.fingerprint == made.fingerprint
    lay_out.lay_out.cache_clear()


UNNEEDED = (
    *("pint", "scipy", "numpy", "openpyxl", "PIL", "dask", "tkinter"),
    *("ssl", "http.client", "urllib.request", "importlib.metadata"),
    *("formualizer", "socket", "tempfile", "tomllib"),
    *("pourbook.hosts.calc.bundle", "pourbook.papers", "pourbook.commands.desk"),
)


def test_a_check_loads_nothing_it_does_not_need(demo_us: Path) -> None:
    told = (
        "import sys; from pathlib import Path;"
        "from pourbook.workbook.check.check import check_file;"
        "assert not check_file(Path(sys.argv[1])).findings;"
        f"print([n for n in {UNNEEDED} if n in sys.modules])"
    )
    free = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    for _ in range(2):
        run = [sys.executable, "-c", told, str(demo_us)]
        done = subprocess.run(run, check=True, capture_output=True, text=True, env=free)
    assert done.stdout.strip() == "[]"
