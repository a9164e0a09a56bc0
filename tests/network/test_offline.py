"""What the page for a PC without internet lists is what such a PC needs, file for file.

The wheels come from the package index that pip is set up to use. Where it cannot be reached the
tests are skipped with the reason; in CI they fail.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterable
from email.parser import Parser
from pathlib import Path
from typing import NamedTuple

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename

from pourbook import __version__
from pourbook.cli import main
from pourbook.hosts.excel import add_to_excel

pytestmark = pytest.mark.network
ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "shared" / "offline_pc.md"
LISTED = ROOT / "shared" / "offline_wheels.txt"
README = ROOT / "README.md"
# The markers of CPython 3.11 on 64-bit Windows: PEP 508.
WINDOWS = {
    "implementation_name": "cpython",
    "implementation_version": "3.11.9",
    "os_name": "nt",
    "platform_machine": "AMD64",
    "platform_python_implementation": "CPython",
    "platform_release": "10",
    "platform_system": "Windows",
    "platform_version": "10.0",
    "python_full_version": "3.11.9",
    "python_version": "3.11",
    "sys_platform": "win32",
    "extra": "",
}
FOR_WINDOWS = [
    *("--platform", "win_amd64", "--python-version", "3.11"),
    *("--implementation", "cp", "--only-binary=:all:"),
]


class Wheel(NamedTuple):
    version: str
    needs: tuple[Requirement, ...]


def _listed() -> dict[str, str]:
    lines = [line for line in LISTED.read_text("utf-8").splitlines() if not line.startswith("#")]
    return dict(line.split("==") for line in lines)


def _on_page() -> dict[str, str]:
    return dict(re.findall(r"^\| ([a-z0-9-]+) \| ([0-9][0-9.]*) \|", PAGE.read_text("utf-8"), re.M))


def _commands() -> list[list[str]]:
    found = re.findall(r"^py -3\.11 -m (pip .*)$", PAGE.read_text("utf-8"), re.M)
    return [line.split() for line in found]


def _pip(*arguments: str, cwd: Path = ROOT) -> str:
    """Run pip; an index that cannot be reached skips the test, or fails it in CI."""
    done = subprocess.run(
        [sys.executable, "-m", *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    told = done.stdout + done.stderr
    if done.returncode and re.search(
        r"NewConnectionError|ConnectTimeout|ReadTimeout|ProxyError|NameResolutionError"
        r"|Connection refused|Max retries exceeded",
        told,
    ):
        reason = "the package index cannot be reached: " + told[-300:]
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    assert done.returncode == 0, (
        f"{told[-2000:]}\nA version that is gone: change its line in shared/offline_wheels.txt "
        "and in the table of shared/offline_pc.md"
    )
    return told


def _read(paths: Iterable[Path]) -> dict[str, Wheel]:
    found: dict[str, Wheel] = {}
    for path in paths:
        name, version, *_ = parse_wheel_filename(path.name)
        with zipfile.ZipFile(path) as wheel:
            (part,) = [n for n in wheel.namelist() if re.fullmatch(r"[^/]+\.dist-info/METADATA", n)]
            told = Parser().parsestr(wheel.read(part).decode())
        needs = [Requirement(line) for line in told.get_all("Requires-Dist") or []]
        kept = [n for n in needs if n.marker is None or n.marker.evaluate(WINDOWS)]
        found[name] = Wheel(str(version), tuple(kept))
    return found


def _missing(wheels: dict[str, Wheel], first: str = "pourbook") -> tuple[list[str], set[str]]:
    """Return what a Windows PC would ask for in vain, and what it never asks for."""
    asked, to_do, faults = {first}, [first], []
    while to_do:
        name = to_do.pop()
        for need in wheels[name].needs:
            wanted = canonicalize_name(need.name)
            if wanted not in wheels:
                faults.append(f"{name} needs {need}: add a line for it")
            elif not need.specifier.contains(wheels[wanted].version, prereleases=True):
                have = wheels[wanted].version
                faults.append(f"{name} needs {need}: change the line {wanted}=={have}")
            elif wanted not in asked:
                asked.add(wanted)
                to_do.append(wanted)
    return faults, wheels.keys() - asked


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that the two commands of the page fill, by those commands."""
    folder = tmp_path_factory.mktemp("offline") / "wheels"
    build, download, *_ = _commands()
    for command in (build, download):
        assert "wheels" in command
        _pip(*[str(folder) if word == "wheels" else word for word in command])
    return folder


def test_the_commands_are_for_the_shop_pc() -> None:
    build, download, *others = _commands()
    assert build == ["pip", "wheel", "--no-deps", "-w", "wheels", "."]
    assert " ".join(FOR_WINDOWS) in " ".join(download)
    assert "--no-deps" in download, "pip elsewhere would leave out what only Windows needs"
    assert download[-1] == "shared/offline_wheels.txt"
    assert len(others) == 1
    assert others[0][:3] == ["pip", "install", "--no-index"]


def test_page_and_list_name_the_same() -> None:
    listed = _listed()
    wrong = [f"{n} {v}" for n, v in sorted(set(listed.items()) ^ set(_on_page().items()))]
    assert not wrong, f"shared/offline_wheels.txt and the table of offline_pc.md differ in {wrong}"
    assert listed["xlwings"] == add_to_excel.XLWINGS
    text = PAGE.read_text("utf-8")
    assert f"with {len(listed) + 1} files" in text
    assert f"pourbook-{__version__}-py3-none-any.whl" in text
    assert set(re.findall(r"xlwings(?:64|32)?[-=]+([0-9.]+[0-9])", text)) == {add_to_excel.XLWINGS}
    assert "shared/offline_pc.md" in README.read_text("utf-8")


def test_the_folder_holds_what_windows_asks_for_and_no_more(wheels: Path) -> None:
    found = _read(wheels.iterdir())
    assert {n: w.version for n, w in found.items() if n != "pourbook"} == _listed()
    faults, idle = _missing(found)
    assert not faults, "shared/offline_wheels.txt: " + "; ".join(faults)
    assert not idle, f"shared/offline_wheels.txt: nothing asks for {sorted(idle)}: take them out"


def test_pip_resolves_the_folder_without_an_index(wheels: Path, tmp_path: Path) -> None:
    told = _pip(
        *("pip", "install", "--no-index", "--find-links", str(wheels), "--dry-run", "--target"),
        *(str(tmp_path), "--ignore-installed", *FOR_WINDOWS, "pourbook", "xlwings", "pywin32"),
        cwd=tmp_path,
    )
    told = told.partition("Would install")[2].lower().replace("_", "-")
    for name in _listed().keys() - {"colorama"}:  # asked for on Windows alone
        assert f"{name}-" in told


def test_a_package_that_only_windows_needs_is_missed(wheels: Path) -> None:
    found = _read(wheels.iterdir())
    del found["colorama"]
    faults, _ = _missing(found)
    assert faults
    assert all("colorama" in fault for fault in faults)
    found["colorama"] = Wheel("0.4.6", ())
    found["numpy"] = found["numpy"]._replace(version="1.0")
    assert any("change the line numpy==1.0" in fault for fault in _missing(found)[0])


def test_the_installed_program_prints_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["addin", "guide"])
    assert end.value.code == 0
    assert capsys.readouterr().out.rstrip("\n") == PAGE.read_text("utf-8").rstrip("\n")
    assert PAGE.read_text("utf-8").isascii(), "a Windows command window may not show it"
