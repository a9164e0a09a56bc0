"""Builds the Calc add-in: one file that LibreOffice installs, made from the catalogue.

Contract: :func:`build` writes an ``.oxt`` that holds the type library, the texts for the function
wizard, the component, and under ``pythonpath/`` Pourbook's functions with what they need, as they
are installed here, each with its licence; its menu names the Python that Pourbook is installed in.
Nothing in it is compiled. The same installation always gives the same bytes.
"""

from __future__ import annotations

import re
import sys
import zipfile
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from pourbook import __version__, resources
from pourbook.errors import UsageError
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Argument, Function
from pourbook.hosts.calc.called import SERVICE, method_name
from pourbook.hosts.calc.typelib import Method, Parameter, interface_library
from pourbook.hosts.steps import WORK

IDENTIFIER = "org.pourbook.calc"
INTERFACE = "org.pourbook.XFunctions"
JOB = "org.pourbook.PlainNames"
MENU = "org.pourbook.Menu"
DEPENDENCIES = ("pint", "flexparser", "flexcache", "platformdirs", "typing_extensions")
EVENTS = ("OnLoadFinished", "OnSaveDone", "OnSaveAsDone")
LIBRARY = "pythonpath/"

_PACKAGE = Path(resources.__file__).parent
_ROOMS = ("units", "trade", "tables", "functions")
"""Rooms of Pourbook that are in the package whole, whatever rooms they have inside."""
_MODULES = (
    *("__init__.py", "alike.py", "errors.py", "resources.py", "cells.py", "dates.py", "once.py"),
    *("compiled.py", "records.py"),
    *("formats/__init__.py", "formats/gs1.py", "formats/ooxml/__init__.py"),
    *("formats/ooxml/copying.py", "hosts/__init__.py"),
    *("hosts/headless/__init__.py", "hosts/headless/engine.py"),
    *("hosts/calc/__init__.py", "hosts/calc/values.py", "hosts/calc/saved.py"),
    "hosts/calc/wrapped.py",
)
_TESTS = re.compile(r"(^|/)(tests?|testsuite)/")
_LICENCE = re.compile(r"(licen[cs]e|copying|authors|notice)", re.IGNORECASE)
_MADE = (2026, 1, 1, 0, 0, 0)
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_REGISTRY = (
    'xmlns:oor="http://openoffice.org/2001/registry" '
    'xmlns:xs="http://www.w3.org/2001/XMLSchema" oor:package="org.openoffice.Office"'
)


def _parameter(argument: Argument) -> str:
    return re.sub(r"\W+", "_", argument.name)


def build(target: Path) -> None:
    """Write the add-in package.

    Args:
        target: The file to write; it is replaced if it is there.

    Raises:
        UsageError: A package Pourbook needs is not installed here.
    """
    with zipfile.ZipFile(target, "w") as made:
        for name, content in sorted(_files().items()):
            item = zipfile.ZipInfo(name, _MADE)
            item.compress_type = zipfile.ZIP_DEFLATED
            item.external_attr = 0o644 << 16
            made.writestr(item, content)


def _files() -> dict[str, bytes]:
    functions = list(catalogue().values())
    names = {method_name(f.name): f.name for f in functions}
    blocks = [f.name for f in functions if f.columns]
    texts = {
        "META-INF/manifest.xml": _manifest(),
        "description.xml": _description(),
        "CalcAddIn.xcu": _wizard(functions),
        "Jobs.xcu": _jobs(),
        "Addons.xcu": _menu(),
        LIBRARY + "pourbook_names.py": (
            f"NAMES = {names!r}\nBLOCKS = {blocks!r}\nPYTHON = {sys.executable!r}\n"
        ),
    }
    files = {name: text.encode() for name, text in texts.items()}
    files["pourbook.rdb"] = interface_library(INTERFACE, [_method(f) for f in functions])
    files["component.py"] = (Path(__file__).parent / "component.py").read_bytes()
    for path in _sources():
        place = path.relative_to(_PACKAGE).as_posix()
        files[f"{LIBRARY}pourbook/{place}"] = path.read_bytes()
    templates = resources.folder("workbook_templates")
    sheets = sorted(path for book in ("job", "shop") for path in (templates / book).glob("*.toml"))
    for path in (resources.folder("shared") / "units.txt", *sheets):
        place = path.relative_to(templates.parent).as_posix()
        files[f"{LIBRARY}pourbook/_data/{place}"] = path.read_bytes()
    for dependency in DEPENDENCIES:
        files.update(_installed(dependency))
    return files


def _sources() -> Iterator[Path]:
    for room in _ROOMS:
        yield from sorted((_PACKAGE / room).rglob("*.py"))
    yield from (_PACKAGE / name for name in _MODULES)


def _method(function: Function) -> Method:
    # Calc takes a block only if the type says so, and a lone text is a full one only out of "any".
    result = "[][]any" if function.columns else "any"
    parameters = tuple(Parameter(_parameter(a), "any") for a in function.arguments)
    return Method(method_name(function.name), result, parameters)


def _installed(name: str) -> Iterator[tuple[str, bytes]]:
    """Give the source files of an installed package, and its licence."""
    try:
        found = metadata.distribution(name)
    except metadata.PackageNotFoundError:
        raise UsageError(f"the package '{name}' is missing", "install Pourbook again") from None
    for file in found.files or ():
        place = file.as_posix()
        inside = place.split("/")[0]
        if inside.endswith(".dist-info"):
            if _LICENCE.match(file.name):
                yield f"licences/{name}/{file.name}", Path(str(file.locate())).read_bytes()
        elif place.endswith((".py", ".txt")) and not _TESTS.search(place) and ".." not in place:
            yield LIBRARY + place, Path(str(file.locate())).read_bytes()


def _manifest() -> str:
    kinds = {
        "pourbook.rdb": "application/vnd.sun.star.uno-typelibrary;type=RDB",
        "component.py": "application/vnd.sun.star.uno-component;type=Python",
        "CalcAddIn.xcu": "application/vnd.sun.star.configuration-data",
        "Jobs.xcu": "application/vnd.sun.star.configuration-data",
        "Addons.xcu": "application/vnd.sun.star.configuration-data",
    }
    entries = "".join(
        f' <manifest:file-entry manifest:full-path="{name}" manifest:media-type="{kind}"/>\n'
        for name, kind in kinds.items()
    )
    space = "http://openoffice.org/2001/manifest"
    return f'{_HEAD}<manifest:manifest xmlns:manifest="{space}">\n{entries}</manifest:manifest>\n'


def _description() -> str:
    return (
        f'{_HEAD}<description xmlns="http://openoffice.org/extensions/description/2006" '
        'xmlns:l="http://libreoffice.org/extensions/description/2011">\n'
        f' <identifier value="{IDENTIFIER}"/>\n <version value="{__version__}"/>\n'
        " <dependencies><l:LibreOffice-minimal-version "
        'value="7.4" l:name="LibreOffice 7.4"/></dependencies>\n'
        ' <display-name><name lang="en">Pourbook functions</name></display-name>\n</description>\n'
    )


def _text(name: str, words: str) -> str:
    value = f'<value xml:lang="en-US">{escape(words)}</value>'
    return f'<prop oor:name="{name}">{value}</prop>'


def _wizard(functions: list[Function]) -> str:
    """Return the names and help texts of the function wizard."""
    nodes = "\n".join(_function_node(f) for f in functions)
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="CalcAddIns">\n'
        f'<node oor:name="AddInInfo"><node oor:name="{SERVICE}" oor:op="replace">'
        f'<node oor:name="AddInFunctions">\n{nodes}\n</node></node></node>\n'
        "</oor:component-data>\n"
    )


def _function_node(function: Function) -> str:
    arguments = "".join(_argument_node(a) for a in function.arguments)
    return (
        f'<node oor:name="{method_name(function.name)}" oor:op="replace">'
        + _text("DisplayName", function.name)
        + _text("Description", f"{function.summary}. Gives {function.result}")
        + '<prop oor:name="Category"><value>Add-In</value></prop>'
        + _text("CompatibilityName", function.name)
        + f'<node oor:name="Parameters">{arguments}</node></node>'
    )


def _argument_node(argument: Argument) -> str:
    may = " (may be left out)" if argument.optional else ""
    return (
        f'<node oor:name={quoteattr(_parameter(argument))} oor:op="replace">'
        + _text("DisplayName", argument.name)
        + _text("Description", argument.help + may)
        + "</node>"
    )


def _jobs() -> str:
    events = "".join(
        f'<node oor:name="{event}" oor:op="fuse"><node oor:name="JobList">'
        '<node oor:name="PourbookNames" oor:op="replace"/></node></node>\n'
        for event in EVENTS
    )
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Jobs">\n'
        '<node oor:name="Jobs"><node oor:name="PourbookNames" oor:op="replace">'
        f'<prop oor:name="Service"><value>{JOB}</value></prop></node></node>\n'
        f'<node oor:name="Events">\n{events}</node>\n</oor:component-data>\n'
    )


def _menu() -> str:
    """Return the menu: a line for each step of the work."""
    where = "com.sun.star.sheet.SpreadsheetDocument"

    def plain(name: str, value: str) -> str:
        return f'<prop oor:name="{name}" oor:type="xs:string"><value>{value}</value></prop>'

    lines = "\n".join(
        f'<node oor:name="m{number:02d}" oor:op="replace">{plain("Context", where)}'
        f"{plain('URL', f'service:{MENU}?{step.name}')}{plain('Target', '_self')}"
        f"{_text('Title', step.label)}</node>"
        for number, step in enumerate(WORK, 1)
    )
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Addons">\n'
        f'<node oor:name="AddonUI"><node oor:name="OfficeMenuBar">'
        f'<node oor:name="org.pourbook.menu" oor:op="replace">{plain("Context", where)}'
        f'{_text("Title", "Pourbook")}<node oor:name="Submenu">\n{lines}\n</node></node>'
        "</node></node>\n</oor:component-data>\n"
    )
