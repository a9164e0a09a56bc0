"""Stand-ins that let xlwings' own Windows code run on Linux.

Stood in for: pywin32 (the dozen names xlwings asks for) and three Windows loaders of ctypes.
Real: xlwings' Windows branch, its COM server's ``CallUDF``, its generator of wrapper modules and
its conversion. ``python tests/hosts/winshim.py`` renews the wrapper module the workbooks carry.
"""

from __future__ import annotations

import asyncio  # noqa: F401 - what must be imported as on Linux, before the platform changes
import concurrent.futures  # noqa: F401
import contextlib
import ctypes
import datetime as dt
import importlib
import io
import multiprocessing  # noqa: F401
import subprocess  # noqa: F401
import sys
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import numpy  # noqa: F401
import pandas  # noqa: F401

RANGE_ID = "{00020846-0000-0000-C000-000000000046}"
MISSING = -2147352572  # how an argument left out arrives
UDFS = "pourbook.hosts.excel.udfs"
WRAPPER = Path(__file__).parents[2] / "src" / "pourbook" / "hosts" / "excel" / "xlwings_udfs.bas"


class ComError(Exception):
    """pywin32's com_error."""

    @property
    def hresult(self) -> object:
        return self.args[0]


class TimeType(dt.datetime):
    """pywin32's time is a datetime."""


def _module(name: str, **content: Any) -> types.ModuleType:
    made = types.ModuleType(name)
    made.__dict__.update(content)
    return made


def _no_unwrap(_: object) -> None:
    raise ValueError("no Python object")


def _stand_ins() -> dict[str, types.ModuleType]:
    def empty(name: str) -> type:
        return type(name, (), {})

    policy = _module("win32com.server.policy", DefaultPolicy=empty("DefaultPolicy"))
    util = _module("win32com.server.util", wrap=lambda ob, *_, **__: ob, unwrap=_no_unwrap)
    dispatcher = _module("win32com.server.dispatcher")
    exception = _module("win32com.server.exception", COMException=ComError)
    server = _module(
        "win32com.server", policy=policy, util=util, dispatcher=dispatcher, exception=exception
    )
    client = _module(
        "win32com.client",
        Dispatch=lambda ob, *_, **__: ob,
        DispatchEx=lambda *_: None,
        CDispatch=empty("CDispatch"),
        CoClassBaseClass=empty("CoClassBaseClass"),
        DispatchBaseClass=empty("DispatchBaseClass"),
        gencache=_module("win32com.client.gencache", EnsureModule=lambda *_, **__: None),
    )
    zone = type("TimeZoneInfo", (), {"utc": staticmethod(lambda: dt.UTC)})
    found = [
        _module(
            "pythoncom",
            __file__="pythoncom.dll",
            CoInitialize=lambda: None,
            com_error=ComError,
            ole_error=ComError,
            IID_IDispatch="IDispatch",
            IID_IEnumVARIANT="IEnumVARIANT",
            TypeIIDs={"IDispatch": empty("PyIDispatch")},
            CoMarshalInterThreadInterfaceInStream=lambda _, ob: ob,
            CoGetInterfaceAndReleaseStream=lambda stream, _: stream,
        ),
        _module("pywintypes", com_error=ComError, error=ComError, TimeType=TimeType, IID=str.upper),
        _module("win32process", GetWindowThreadProcessId=lambda _: (1, 4242)),
        _module("win32timezone", TimeZoneInfo=zone),
        _module("win32com", client=client, server=server),
        *(_module(name) for name in ("win32api", "win32con", "win32gui", "win32event")),
        *(client, server, policy, util, dispatcher, exception),
    ]
    return {module.__name__: module for module in found}


def _fresh(name: str) -> bool:
    return name == "xlwings" or name.startswith("xlwings.") or name == UDFS


@contextlib.contextmanager
def windows_xlwings() -> Iterator[Any]:
    """Import xlwings anew through its Windows branch, and undo it afterwards."""
    saved = {name: module for name, module in sys.modules.items() if _fresh(name)}
    for name in saved:
        del sys.modules[name]
    library = mock.MagicMock(name="dll")
    with (
        mock.patch.dict(sys.modules, _stand_ins()),
        mock.patch.object(ctypes, "windll", library, create=True),
        mock.patch.object(ctypes, "oledll", library, create=True),
        mock.patch.object(ctypes, "PyDLL", library),
    ):
        with (
            mock.patch.object(sys, "platform", "win32"),
            mock.patch("atexit.register", lambda f, *_, **__: f),
        ):
            xlwings = importlib.import_module("xlwings")
        try:
            yield xlwings
        finally:
            for name in [n for n in sys.modules if _fresh(n)]:
                del sys.modules[name]
    sys.modules.update(saved)


TRIPS: list[str] = []
"""Every property read or call that would cross the border between the processes."""


class Com:
    """A COM object: only what it is given exists, and each access is a trip."""

    def __init__(self, **content: Any) -> None:
        self.__dict__["content"] = content

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name not in self.__dict__["content"]:
            raise AttributeError(name)
        TRIPS.append(name)
        return self.__dict__["content"][name]


class ComItems(Com):
    """A COM collection that can be walked."""

    def __init__(self, items: list[Com]) -> None:
        super().__init__(Count=len(items))
        self.__dict__["items"] = items

    def __iter__(self) -> Iterator[Com]:
        return iter(self.__dict__["items"])


class _Ole:
    def GetTypeInfo(self) -> Any:  # noqa: N802 - the name COM has
        return types.SimpleNamespace(GetTypeAttr=lambda: types.SimpleNamespace(iid=RANGE_ID))


class Components:
    """The modules of a VBA project as Excel would hold them."""

    def __init__(self) -> None:
        self.imported: dict[str, str] = {}

    def __call__(self, name: str) -> str:
        if name not in self.imported:
            raise ComError(-2147352567, "subscript out of range", None, None)
        return self.imported[name]

    def Remove(self, _: object) -> None:  # noqa: N802 - the name COM has
        raise AssertionError("nothing was imported before")

    def Import(self, path: str) -> None:  # noqa: N802 - the name COM has
        text = Path(path).read_text(encoding="utf-8")
        self.imported[text.split('"', 2)[1]] = text


class Excel:
    """An Excel with one workbook; makes ranges the way VBA hands them over."""

    def __init__(self) -> None:
        self.options: list[tuple[str, dict[str, Any]]] = []
        self.components = Components()
        self.app = Com(
            Hwnd=4711,
            Version="16.0",
            MacroOptions=lambda macro, **given: self.options.append((macro, given)),
        )
        self.sheet = Com(Name="Rooms", Index=1)
        self.book = Com(
            Name="job.xlsm",
            FullName="C:\\jobs\\job.xlsm",
            Path="C:\\jobs",
            Application=self.app,
            VBProject=Com(VBComponents=self.components),
            Worksheets=ComItems([self.sheet]),
            Sheets=ComItems([self.sheet]),
        )
        self.sheet.__dict__["content"]["Parent"] = self.book

    def range(self, value: object = None, shown: object = "same") -> Com:
        """Return a range; ``shown`` is what its ``Value`` gives where it is not ``Value2``."""
        rows, columns = (len(value), len(value[0])) if isinstance(value, tuple) else (1, 1)
        made = Com(
            Value=value if shown == "same" else shown,
            Value2=value,
            Worksheet=self.sheet,
            Row=1,
            Column=1,
            Count=rows * columns,
            Rows=Com(Count=rows),
            Columns=Com(Count=columns),
            Application=self.app,
        )
        made.__dict__["_oleobj_"] = _Ole()
        return made


def wrapper_text() -> tuple[str, list[tuple[str, dict[str, Any]]]]:
    """Return the wrapper module xlwings generates, and what the function wizard is told."""
    with windows_xlwings() as xlwings, contextlib.redirect_stdout(io.StringIO()):
        excel = Excel()
        xlwings.import_udfs(UDFS, excel.book)
        return excel.components.imported["xlwings_udfs"], excel.options


if __name__ == "__main__":
    WRAPPER.write_text(wrapper_text()[0], encoding="ascii")
