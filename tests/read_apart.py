"""Parts of a workbook changed at random: what a check passes, LibreOffice has to read as we do.

By hand: ``python -m tests.read_apart --files 200 --seed 1``; a short form is a test of
:mod:`tests.formats.test_read_apart`. A change is one that no pattern of ours foresees: an attribute
set, dropped, or taken from elsewhere; an element twice, gone, moved, wrapped, of another sort, or
with a child; a text a little otherwise. Most of these files are refused, or told by a finding. Of
the others the cells that LibreOffice shows otherwise than in the file before the change have to be
those we read otherwise, and the other way round. A number shown to fewer places is the same within
two in a hundred, see :mod:`pourbook.workbook.check.number_shown`.

What is not looked at: content types, for LibreOffice works a file anew whose types it does not
know, and whatever has no cells.
"""

from __future__ import annotations

import argparse
import copy
import csv
import random
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from lxml import etree
from tests.office import program

from pourbook.cells import Value
from pourbook.cells import text as told
from pourbook.errors import PourbookError
from pourbook.formats.ooxml.addresses import a1
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import read_book

Cells = dict[tuple[str, str], str]
AS_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
"""All sheets, as they are shown."""
AT_ONCE = 20
CLOSE = 0.02
_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_NEWER = "{http://schemas.openxmlformats.org/markup-compatibility/2006}"
_SHEETS = "xl/worksheets/sheet"
_OTHERS = ("xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/sharedStrings.xml", "xl/styles.xml")
_CELLS = {_Q + name for name in ("c", "v", "f", "is", "t", "row", "col", "si", "r", "xf", "sheet")}
_SET = ("t=str", "t=n", "t=b", "t=e", "t=d", "t=s", "t=inlineStr", "s=0", "s=1", "r=Z999", "r=a1",
        "r=$A$1", "ref=A1:B2", "si=0", "numFmtId=14", "applyNumberFormat=0", "quotePrefix=1",
        "xfId=1", "formatCode=0;0", "showFormulas=1", "date1904=1", "refMode=R1C1", "style=3",
        "min=1", "max=99", "cm=1", "vm=1", "ph=1", "dt2D=1", "spans=1:2", "state=hidden",
        "localSheetId=0", "name=Rooms", "Id=rId1")  # fmt: skip
_WRITTEN = (" {}", "{} ", "\n{}", "+{}", "0{}", "{}.0", "{}e0", "{}E+0", "0x{}", "-{}", "{}0",
            "1{}", "INF", "NaN", "TRUE", "true", "", "\u0661", "_x0031_{}",
            "{}_x000D_")  # fmt: skip


def changed(root: etree._Element, rnd: random.Random) -> str:
    """Change one thing in a part; return what, nothing if there was nothing to change."""
    every = [one for one in root.iter() if isinstance(one.tag, str)]
    mostly = [one for one in every if one.tag in _CELLS]
    one = rnd.choice(mostly if mostly and rnd.random() < 0.7 else every)
    change = rnd.choice(CHANGES)
    where = f"{etree.QName(one).localname} {dict(list(one.attrib.items())[:2])}"
    said = change(one, every, rnd)
    return said and f"{where}: {said}"


def _set(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    said = rnd.choice(_SET)
    one.set(*said.split("=", 1))
    return f"set {said}"


def _drop(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    if not one.attrib:
        return ""
    name = rnd.choice(sorted(map(str, one.attrib)))
    del one.attrib[name]
    return f"drop {name}"


def _take(one: etree._Element, every: list[etree._Element], rnd: random.Random) -> str:
    if not one.attrib:
        return ""
    name = rnd.choice(sorted(map(str, one.attrib)))
    was = one.get(name)
    one.set(name, rnd.choice([other.attrib[name] for other in every if name in other.attrib]))
    return f"{name} {was!r} -> {one.get(name)!r}"


def _write(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    name = rnd.choice(["", *sorted(map(str, one.attrib))])
    was = one.get(name, "") if name else one.text or ""
    now = rnd.choice(_WRITTEN).replace("{}", was)
    if name:
        one.set(name, now)
    else:
        one.text = now
    return f"{name or 'text'} {was[:30]!r} -> {now[:30]!r}"


def _twice(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    if one.getparent() is None:
        return ""
    other = copy.deepcopy(one)
    if other.text and rnd.random() < 0.5:
        other.text = "7"
    one.addnext(other)
    return "twice"


def _gone(one: etree._Element, _: list[etree._Element], __: random.Random) -> str:
    above = one.getparent()
    if above is None:
        return ""
    above.remove(one)
    return "gone"


def _moved(one: etree._Element, _: list[etree._Element], __: random.Random) -> str:
    after = one.getnext()
    if after is None:
        return ""
    after.addnext(one)
    return "moved"


def _with_child(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    name = rnd.choice(["v", "f", "t", "is", "r", "x", "c", "row", "rPh", "extLst"])
    child = etree.SubElement(one, _Q + name)
    child.text = rnd.choice(["5", None, "A1", "1+1"])
    return f"with {name} {child.text}"


def _wrapped(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    if one.getparent() is None:
        return ""
    around = etree.Element(_NEWER + "AlternateContent")
    choice = etree.SubElement(around, _NEWER + rnd.choice(["Choice", "Fallback"]))
    choice.set("Requires", "x14")
    one.addprevious(around)
    choice.append(one)
    return "wrapped"


def _parted(one: etree._Element, _: list[etree._Element], rnd: random.Random) -> str:
    if not one.text:
        return ""
    at, words = rnd.randrange(len(one.text) + 1), one.text
    between = etree.Comment("x") if rnd.random() < 0.5 else etree.ProcessingInstruction("x", "y")
    one.text = words[:at]
    one.insert(0, between)
    between.tail = words[at:]
    return "parted"


def _of_another_sort(one: etree._Element, _: list[etree._Element], __: random.Random) -> str:
    one.tag = f"{{urn:x}}{etree.QName(one).localname}"
    return "of another sort"


CHANGES: tuple[Callable[[etree._Element, list[etree._Element], random.Random], str], ...] = (
    *(_set, _drop, _take, _write, _write, _twice, _gone, _moved, _with_child, _wrapped, _parted),
    _of_another_sort,
)


def passing(base: Path, folder: Path, seed: int, tries: int) -> Iterator[tuple[Path, str]]:
    """Write files with one change each; give those that a check passes, and what was changed."""
    rnd = random.Random(seed)  # nothing is kept secret
    with zipfile.ZipFile(base) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    sheets = sorted(name for name in parts if name.startswith(_SHEETS))
    others = [name for name in _OTHERS if name in parts]
    for number in range(tries):
        name = rnd.choice(sheets if rnd.random() < 0.6 else others)
        root = etree.fromstring(parts[name])
        try:
            said = changed(root, rnd)
        except ValueError:  # nothing XML can hold
            continue
        path = folder / f"{seed}-{number}.xlsx"
        written = {**parts, name: etree.tostring(root, encoding="UTF-8", xml_declaration=True)}
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
            for part, content in written.items():
                package.writestr(part, content)
        try:
            passes = said and not check_file(path, copy=True).findings
        except PourbookError:
            passes = False
        if passes:
            yield path, f"{name} {said}"
        else:
            path.unlink()


def shown(files: Sequence[Path], folder: Path) -> dict[Path, Cells]:
    """Return what LibreOffice shows in each cell of each file."""
    found: dict[Path, Cells] = {}
    profile = f"-env:UserInstallation=file://{folder}/profile"
    for first in range(0, len(files), AT_ONCE):
        some = files[first : first + AT_ONCE]
        command = [program(), profile, "--headless", "--convert-to", AS_CSV]
        command += ["--outdir", str(folder), *map(str, some)]
        for _ in range(2):  # a new profile ends once, and wants to be started again
            subprocess.run(command, capture_output=True, check=False, timeout=300)
            if any(folder.glob(f"{some[0].stem}-*.csv")):
                break
        found |= {file: _cells(folder, file.stem) for file in some}
    return found


def _cells(folder: Path, stem: str) -> Cells:
    found: Cells = {}
    for path in folder.glob(f"{stem}-*.csv"):
        sheet = path.stem.removeprefix(f"{stem}-")
        with path.open(encoding="utf-8", newline="") as stream:
            for row, values in enumerate(csv.reader(stream), 1):
                at = enumerate(values, 1)
                found |= {(sheet, a1(row, column)): value for column, value in at if value.strip()}
        path.unlink()
    return found


def read(path: Path) -> dict[tuple[str, str], Value]:
    """Return what we read in each cell of a file."""
    sheets = read_book(path).sheets.values()
    return {(s.name, at): cell.value for s in sheets for at, cell in s.cells.items()}


def apart(base: Path, files: Mapping[Path, str], folder: Path) -> list[str]:
    """Return what LibreOffice reads otherwise than we do, for each such file."""
    all_shown = shown([base, *files], folder)
    theirs, ours = all_shown[base], read(base)
    found = []
    for file, said in files.items():
        now, mine = all_shown[file], read(file)
        if {sheet for sheet, _ in now} != {sheet for sheet, _ in theirs}:
            found.append(f"{said}: other sheets, or none")
            continue
        places = theirs.keys() | now.keys()
        other = {at for at in places if not _same(theirs.get(at, ""), now.get(at, ""))}
        moved = {at for at in ours.keys() | mine.keys() if not _alike(ours, mine, at)}
        wrong = sorted((other - moved) | {at for at in moved - other if at in theirs})
        if wrong:
            was, is_now = theirs.get(wrong[0], ""), now.get(wrong[0], "")
            found.append(f"{said}: {len(wrong)} cells, {wrong[0]} {was[:40]!r} -> {is_now[:40]!r}")
    return found


def _same(one: str, other: str) -> bool:
    """Return whether two cells show the same: numbers nearly, words but for space about them."""
    if " ".join(one.split()) == " ".join(other.split()):
        return True
    try:
        first, second = float(one), float(other)
    except ValueError:
        return False
    return abs(first - second) <= CLOSE * max(abs(first), abs(second))


def _alike(
    ours: Mapping[tuple[str, str], Value],
    mine: Mapping[tuple[str, str], Value],
    at: tuple[str, str],
) -> bool:
    return _same(told(ours.get(at)), told(mine.get(at)))


def main() -> int:
    """Run by hand."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--files", type=int, default=200, help="files changed")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--base", type=Path, help="a job; the demo if left out")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        base = given.base
        if base is None:
            demo = [sys.executable, "-m", "pourbook", "demo", str(folder / "demo")]
            subprocess.run(demo, check=True, capture_output=True)
            base = folder / "demo" / "demo.xlsx"
        files = dict(passing(base, folder, given.seed, given.files))
        found = apart(base, files, folder)
    told_of = f"{len(files)} of {given.files} pass, {len(found)} apart\n"
    sys.stdout.write("\n".join([*found, told_of]))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
