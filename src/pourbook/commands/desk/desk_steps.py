"""What the window offers, in the order of the work: each a command of Pourbook and what it asks.

Contract: plain data, no window: :func:`commands_of` turns a step, the file that is chosen and the
answers into the words of one or more commands, or says what is still missing. Nothing is worked out
and nothing is run here.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

from pourbook.errors import UsageError
from pourbook.hosts.steps import WORK
from pourbook.records import dataclass

OPEN, SAVE, FOLDER, TEXT, YES = "open", "save", "folder", "text", "yes"
"""What an answer is: a file that is there, one to write, a folder, words, or a tick."""
_SHOWN = {step.name: step for step in WORK}
HERE = "{here}"
"""Stands for the file that is chosen, ``{folder}`` for the folder it lies in."""
_SAID = {
    0: "Done.",
    1: "Done as far as it goes: something is to fix or was refused, the lines above say what.",
    2: "Not done: something was left out or does not go together, the last line says what.",
    3: "Not done: a file could not be read or written, the last line says which.",
    4: "Not done: Pourbook itself failed. Please send us the lines above.",
}


@dataclass(frozen=True)
class Ask:
    """Something a step needs to know: ``option`` is its flag, nothing for a place in the words."""

    name: str
    label: str
    kind: str = TEXT
    option: str = ""
    needed: bool = False
    usual: str = ""


@dataclass(frozen=True)
class DeskStep:
    """A button: the words of its commands, and what it asks first.

    ``chosen`` says what must be chosen above: a job, or nothing.
    """

    name: str
    commands: tuple[tuple[str, ...], ...]
    asks: tuple[Ask, ...] = ()
    chosen: bool = True

    @property
    def label(self) -> str:
        """Return what stands on its button."""
        return _SHOWN[self.name].label

    @property
    def said(self) -> str:
        """Return what it does, in a sentence."""
        return _SHOWN[self.name].said


_BY = Ask("by", "Who", option="--by", needed=True)
STEPS: tuple[DeskStep, ...] = (
    DeskStep(
        "new", (("new", "{target}"),),
        (
            Ask("target", "The new workbook", SAVE, needed=True, usual="job.xlsx"),
            Ask("shop", "From the shop's workbook", OPEN, "--shop"),
            Ask("from", "Rooms from a table (.csv)", OPEN, "--from"),
        ),
        chosen=False,
    ),
    DeskStep(
        "check", (("recompute", HERE), ("check", HERE)),
    ),
    DeskStep(
        "papers", (("papers", HERE, "{target}"),),
        (
            Ask("target", "Folder for the papers", FOLDER, needed=True, usual="{folder}/papers"),
            Ask("force", "Replace papers that are there", YES, "--force"),
        ),
    ),
    DeskStep(
        "accept", (("accept", HERE),),
        (
            Ask("by", "Who accepted it", option="--by"),
            Ask("on", "Day (2027-01-31), blank is today", option="--on"),
            Ask("change", "Change order, once work has begun", option="--change"),
        ),
    ),
    DeskStep(
        "log", (("log", HERE),),
        (
            Ask("from", "Table of batches, or of hours (.csv)", OPEN, "--from", needed=True),
            Ask("hours", "It holds hours of labour by step", YES, "--hours"),
        ),
    ),
    DeskStep(
        "receipts", (("receipts", HERE),),
        (Ask("from", "Table of the invoice (.csv)", OPEN, "--from", needed=True),),
    ),
    DeskStep(
        "books", (("books", HERE, "{target}"),),
        (Ask("target", "The copy", SAVE, needed=True, usual="{folder}/books copy.xlsx"),),
    ),
    DeskStep(
        "take", (("take", "{copy}", HERE),),
        (Ask("copy", "The books copy", OPEN, needed=True), _BY),
    ),
    DeskStep(
        "settle", (("settle", HERE),),
        (Ask("journal", "Journal (.csv or .beancount)", SAVE, "--journal"),),
    ),
    DeskStep(
        "close", (("settle", HERE, "--close"),),
        (
            _BY,
            Ask("on", "Day (2027-01-31), blank is today", option="--on"),
            Ask("why", "What a correction is for", option="--why"),
        ),
    ),
    DeskStep(
        "stock", (("stock", "{shop}", "--from", HERE),),
        (Ask("shop", "The shop's workbook", OPEN, needed=True),),
    ),
    DeskStep(
        "open", (("open", "{jobs}"),),
        (Ask("jobs", "Folder of the jobs", FOLDER, needed=True, usual="{folder}"),),
        chosen=False,
    ),
    DeskStep(
        "month", (("month", "{jobs}", "{target}"),),
        (
            Ask("jobs", "Folder of the jobs", FOLDER, needed=True, usual="{folder}"),
            Ask("target", "The month's workbook", SAVE, needed=True, usual="{folder}/month.xlsx"),
            Ask("first", "From (2027-01-01)", option="--from"),
            Ask("last", "To (2027-01-31)", option="--to"),
        ),
        chosen=False,
    ),
    DeskStep(
        "board", (("board", "{jobs}", "{target}"),),
        (
            Ask("jobs", "Folder of the jobs", FOLDER, needed=True, usual="{folder}"),
            Ask("target", "The board's workbook", SAVE, needed=True, usual="{folder}/board.xlsx"),
            Ask("shop", "The shop's workbook", OPEN, option="--shop"),
        ),
        chosen=False,
    ),
)  # fmt: skip


def path_of(words: str) -> str:
    """Return a path as it was copied in a file manager: in quotes, or as the address of a file.

    Example:
        >>> path_of('"/jobs/bar.xlsx"'), path_of("file:///jobs/our%20bar.xlsx")
        ('/jobs/bar.xlsx', '/jobs/our bar.xlsx')
    """
    bare = words.strip().strip('"')
    return url2pathname(urlsplit(bare).path) if bare.startswith("file:") else bare


def usual_of(ask: Ask, chosen: str) -> str:
    """Return what stands in a field before anything is typed.

    Example:
        >>> usual_of(STEPS[2].asks[0], "/jobs/bar.xlsx")
        '/jobs/papers'
    """
    folder = str(Path(chosen).parent) if chosen else ""
    return ask.usual.replace("{folder}", folder).lstrip("/" if not folder else "")


def commands_of(
    step: DeskStep, chosen: str, answers: Mapping[str, str], *, replace: bool = False
) -> list[list[str]]:
    """Return the words of a step's commands.

    Args:
        step: The step.
        chosen: The file that is chosen; nothing if none is.
        answers: What was answered, by the name of what was asked; a tick is ``yes``.
        replace: Whether files that are there may be replaced: somebody was asked and said so.

    Raises:
        UsageError: No job is chosen, or an answer is missing.

    Example:
        >>> commands_of(STEPS[3], "bar.xlsx", {"by": "Ann", "on": "", "change": ""})
        [['accept', 'bar.xlsx', '--by', 'Ann']]
    """
    if step.chosen and not chosen.strip():
        raise UsageError("no job is chosen", "choose one at the top", step.label)
    given = {ask.name: answers.get(ask.name, "").strip() for ask in step.asks}
    for ask in step.asks:
        if ask.needed and not given[ask.name]:
            raise UsageError("it is blank", "fill it in", ask.label)
    places = {"{here}": chosen, **{f"{{{name}}}": value for name, value in given.items()}}
    more: list[str] = []
    for ask in step.asks:
        if ask.option and ask.kind == YES:
            more += [ask.option] * (given[ask.name] == "yes")
        elif ask.option and given[ask.name]:
            more += [ask.option, given[ask.name]]
    if replace and "--force" not in more:
        more.append("--force")
    listed = [[places.get(word, word) for word in words] for words in step.commands]
    listed[-1] += more
    return listed


def written(step: DeskStep, answers: Mapping[str, str]) -> list[Path]:
    """Return the files a step would write over: named to be written, and there already."""
    named = (answers.get(ask.name, "").strip() for ask in step.asks if ask.kind == SAVE)
    return [Path(name) for name in named if name and Path(name).exists()]


def outcome(code: int) -> str:
    """Return what an exit code means, in plain words.

    Example:
        >>> outcome(0), outcome(-15)
        ('Done.', 'Stopped. Each file is as it was, or as it should be.')
    """
    return _SAID.get(code, "Stopped. Each file is as it was, or as it should be.")
