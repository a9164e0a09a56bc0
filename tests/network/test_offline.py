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
INSTALLER = ROOT / "shared" / "Install Pourbook.cmd"
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


# The file to double-click


def _lines() -> list[str]:
    content = INSTALLER.read_bytes()
    assert content.count(b"\n") == content.count(b"\r\n"), "cmd reads lines that end as Windows' do"
    return content.decode("ascii").splitlines()


def test_the_installer_names_what_the_page_puts_beside_it() -> None:
    lines = _lines()
    setup = re.search(r"python-[\d.]+-amd64\.exe", "\n".join(lines))
    assert setup is not None
    page = PAGE.read_text("utf-8")
    assert setup[0] in page
    assert INSTALLER.name in page
    labels = {line[1:] for line in lines if line.startswith(":")}
    assert labels == {line.rpartition("goto ")[2] for line in lines if "goto " in line}
    ends = {at for at, line in enumerate(lines) if line.startswith("exit /b")}
    for at, line in enumerate(lines):
        if line.startswith(":no"):
            assert any(end > at for end in ends), f"nothing ends after {line}"
            assert lines[at + 1].startswith("echo "), f"{line} says nothing"
    failing = [line for line in lines if line.startswith("if errorlevel 1 goto")]
    assert len(failing) == 4, "what fails is told, and nothing goes on after it"
    runs = [line for line in lines if line.startswith(("%PY% -m", '"%SETUP%"'))]
    for line in runs:
        assert lines[lines.index(line) + 1].startswith("if errorlevel 1 goto"), line


def test_its_commands_install_from_the_folder_alone(tmp_path: Path) -> None:
    """Run on this system: a bare Python, wheels for it, and the commands as they stand there."""
    stick, home = tmp_path / "stick", tmp_path / "home"
    home.mkdir()
    _pip("pip", "wheel", "--no-deps", "-w", str(stick / "wheels"), ".")
    kept = [f"{n}=={v}" for n, v in _listed().items() if n not in {"pywin32", "xlwings"}]
    _pip("pip", "download", "--no-deps", "--only-binary=:all:", "-d", str(stick / "wheels"), *kept)
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "bare")], check=True)
    python = str(tmp_path / "bare" / "bin" / "python")
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("PIP_", "PYTHON", "XDG_"))}
    env = {**clean, "HOME": str(home), "PIP_CONFIG_FILE": os.devnull, "PIP_NO_INDEX": "1"}
    commands = [line for line in _lines() if line.startswith("%PY% -m ")]
    assert len(commands) == 2
    for line in commands * 2:  # the second time is an update
        words = [python, *line.split()[1:]]
        done = subprocess.run(
            words, cwd=stick, env=env, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
    (entry,) = (home / "Desktop").iterdir()
    assert f'Exec="{python}" -m pourbook desk %f' in entry.read_text("utf-8")
    assert os.access(entry, os.X_OK)
