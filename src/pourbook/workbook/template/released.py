"""The templates as each release had them: a job is read by the templates that made it.

Contract: :data:`CURRENT` names the templates in the folder. A version that was released lies
beside them as one archive and never changes again, so that no later template makes an older job
unreadable. Templates may change freely while their version is not released; a test holds that
what was released is as it was. To release: ``python -m pourbook.workbook.template.released``.
"""

from __future__ import annotations

import json
import zipfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

from pourbook import resources
from pourbook.errors import UsageError
from pourbook.functions.catalogue import catalogue

CURRENT = "2"
FIRST = "1"
"""The version of a workbook that names none."""
BOOKS = ("job", "month", "shop")
_FOLDER, _FUNCTIONS = "released", "functions.json"
_MADE = (2026, 1, 1, 0, 0, 0)


class ListedFunction(NamedTuple):
    """A function as the sheet Scratch lists it."""

    name: str
    arguments: str
    summary: str
    example: str


def archive(version: str) -> Path:
    """Return where the archive of a version is, whether it is there or not."""
    return resources.folder("workbook_templates") / _FOLDER / f"{version}.zip"


def is_known(version: str) -> bool:
    """Return whether workbooks of a version can be read.

    Example:
        >>> is_known(CURRENT), is_known("none")
        (True, False)
    """
    return version == CURRENT or (version.isalnum() and archive(version).exists())


def root(version: str) -> Path | zipfile.Path:
    """Return the folder of the templates of a version."""
    if version == CURRENT:
        return resources.folder("workbook_templates")
    return zipfile.Path(archive(version))


def above(folder: Path | zipfile.Path) -> Path | zipfile.Path:
    """Return the folder a folder of templates lies in."""
    return folder.parent if isinstance(folder, Path) else zipfile.Path(folder.root)


@cache
def listed_functions(version: str) -> tuple[ListedFunction, ...]:
    """Return the functions meant for the estimator's own cells, as a version lists them."""
    if version != CURRENT:
        kept = json.loads((zipfile.Path(archive(version)) / _FUNCTIONS).read_text("utf-8"))
        return tuple(ListedFunction(*one) for one in kept)
    return tuple(
        ListedFunction(
            f.name,
            ", ".join(a.name for a in f.arguments),
            f.summary,
            f.examples[0].typed(f.name),
        )
        for f in catalogue().values()
        if not f.columns
    )


def frozen(version: str = CURRENT) -> dict[str, bytes]:
    """Return what the archive of the templates in the folder holds, by name."""
    folder = resources.folder("workbook_templates")
    found = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for book in BOOKS
        for path in sorted((folder / book).glob("*.toml"))
    }
    listed = json.dumps(listed_functions(version), ensure_ascii=False, indent=1)
    return {**found, _FUNCTIONS: listed.encode()}


def release() -> Path:
    """Write the archive of the templates in the folder; the same files give the same bytes.

    Raises:
        UsageError: The version is released already.
    """
    target = archive(CURRENT)
    if target.exists():
        raise UsageError(f"templates {CURRENT} are released", "raise CURRENT", str(target))
    target.parent.mkdir(exist_ok=True)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as made:
        for name, content in frozen().items():
            item = zipfile.ZipInfo(name, _MADE)
            item.compress_type = zipfile.ZIP_DEFLATED
            made.writestr(item, content)
    return target


if __name__ == "__main__":
    release()
