"""The window: a file chosen at the top, buttons in the order of the work, and what happened.

Contract: every button runs the same commands a terminal would, in a process of its own, one after
the other; the window stays alive meanwhile and can stop it. It reads and writes no workbook itself.
"""

from __future__ import annotations

import importlib
import queue
import re
import subprocess
import sys
import threading
import tkinter as tk
from contextlib import suppress
from pathlib import Path
from tkinter import filedialog, messagebox, ttk

import click

from pourbook.commands.desk import desk_steps
from pourbook.commands.desk.desk_steps import FOLDER, OPEN, SAVE, STEPS, YES, Ask, DeskStep
from pourbook.errors import UsageError

TITLE = "Pourbook"
_CELL = re.compile(r"[A-Z][A-Za-z]*(?: [A-Za-z]+)?![A-Z]{1,3}\d+")
_KINDS = (("Workbooks", "*.xlsx *.xlsm"), ("All files", "*"))
_LOOK_EVERY = 50
"""Milliseconds between two looks at what a command has said."""


class Desk(ttk.Frame):
    """The content of the window."""

    def __init__(self, root: tk.Tk, chosen: str = "") -> None:
        super().__init__(root, padding=10)
        self.root = root
        self.running: subprocess.Popen[str] | None = None
        self.waiting: list[list[str]] = []
        self.stopped = False
        self.said: queue.Queue[str | None] = queue.Queue()
        self.file = tk.StringVar(value=desk_steps.path_of(chosen))
        self.file.trace_add("write", self._pasted)
        self.status = tk.StringVar(value="Choose a job, then go down the buttons.")
        self.buttons: dict[str, ttk.Button] = {}
        self.asked: AskWindow | None = None
        styles = ttk.Style(root)
        if styles.theme_use() == "default":  # what Linux shows where nothing else is set
            styles.theme_use("clam")
        self._build()
        if self._takes_drops():
            self.status.set("Choose a job or drop it here, then go down the buttons.")
        root.title(TITLE)
        root.protocol("WM_DELETE_WINDOW", self.leave)

    def _build(self) -> None:
        self.grid(sticky="nsew")
        self.root.columnconfigure(0, weight=1)
        self.root.rowconfigure(0, weight=1)
        self.columnconfigure(1, weight=1)
        self.rowconfigure(1, weight=1)
        top = ttk.Frame(self)
        top.grid(row=0, column=0, columnspan=2, sticky="ew", pady=(0, 10))
        top.columnconfigure(1, weight=1)
        ttk.Label(top, text="Job").grid(row=0, column=0, padx=(0, 8))
        self.file_field = ttk.Entry(top, textvariable=self.file)
        self.file_field.grid(row=0, column=1, sticky="ew")
        self.choose_button = ttk.Button(top, text="Choose...", command=self.choose)
        self.choose_button.grid(row=0, column=2, padx=(8, 0))
        self.see_button = ttk.Button(top, text="Open in spreadsheet", command=self.see)
        self.see_button.grid(row=0, column=3, padx=(8, 0))
        left = ttk.Frame(self)
        left.grid(row=1, column=0, sticky="ns", padx=(0, 10))
        for number, step in enumerate(STEPS):
            button = ttk.Button(left, text=step.label, width=20)
            button.configure(command=lambda step=step: self.press(step))  # type: ignore[misc]
            button.grid(row=number, column=0, sticky="ew", pady=2)
            button.bind("<Enter>", lambda _, said=step.said: self._hint(said))  # type: ignore[misc]
            self.buttons[step.name] = button
        self._build_told()

    def _build_told(self) -> None:
        right = ttk.Frame(self)
        right.grid(row=1, column=1, sticky="nsew")
        right.columnconfigure(0, weight=1)
        right.rowconfigure(0, weight=1)
        self.told = tk.Text(right, wrap="none", width=104, height=30, font="TkFixedFont")
        self.told.grid(row=0, column=0, sticky="nsew")
        down = ttk.Scrollbar(right, orient="vertical", command=self.told.yview)
        across = ttk.Scrollbar(right, orient="horizontal", command=self.told.xview)
        down.grid(row=0, column=1, sticky="ns")
        across.grid(row=1, column=0, sticky="ew")
        self.told.configure(yscrollcommand=down.set, xscrollcommand=across.set, state="disabled")
        self.told.tag_configure("cell", foreground="#1f4e99", underline=True)
        self.told.tag_bind("cell", "<Button-1>", self._cell)
        self.told.tag_configure("head", font="TkHeadingFont")
        foot = ttk.Frame(self)
        foot.grid(row=2, column=0, columnspan=2, sticky="ew", pady=(10, 0))
        foot.columnconfigure(0, weight=1)
        ttk.Label(foot, textvariable=self.status).grid(row=0, column=0, sticky="w")
        self.bar = ttk.Progressbar(foot, mode="indeterminate", length=160)
        self.bar.grid(row=0, column=1, padx=8)
        self.stop_button = ttk.Button(foot, text="Stop", command=self.stop, state="disabled")
        self.stop_button.grid(row=0, column=2)

    def _hint(self, said: str) -> None:
        if self.running is None:
            self.status.set(said)

    def _takes_drops(self) -> bool:
        """Take files that are dropped onto the window, where Tk has been taught to.

        That is its package ``tkdnd``: of the system, or of the Python package tkinterdnd2. Without
        it a file is chosen, pasted, or dropped onto the icon.
        """
        try:
            with suppress(ImportError):
                importlib.import_module("tkinterdnd2.TkinterDnD")._require(self.root)
            self.root.tk.call("package", "require", "tkdnd")
            dropped = self.root.register(self._dropped)
            waiting: list[tk.Misc] = [self.root]
            while waiting:  # what lies on the window hides it from a drop
                widget = waiting.pop()
                self.root.tk.call("tkdnd::drop_target", "register", widget, "DND_Files")
                self.root.tk.call("bind", widget, "<<Drop:DND_Files>>", f"{dropped} %D")
                waiting += widget.winfo_children()
        except (tk.TclError, RuntimeError):
            return False
        return True

    def _dropped(self, *data: str) -> str:
        """Choose the first workbook of what was dropped: paths, or one list of them."""
        known = [one for one in data if Path(desk_steps.path_of(one)).is_file()]
        listed = known or [str(one) for some in data for one in self.root.tk.splitlist(some)]
        paths = [desk_steps.path_of(one) for one in listed]
        books = [one for one in paths if one.lower().endswith((".xlsx", ".xlsm"))]
        if books and self.running is None:
            self.file.set(books[0])
        else:
            self.status.set("Drop a job: a workbook that ends in .xlsx or .xlsm.")
        return "copy"

    def _pasted(self, *_: str) -> None:
        """Take a path as file managers copy it."""
        said = self.file.get()
        bare = desk_steps.path_of(said) if said.startswith(('"', "file:")) else said
        if bare != said and Path(bare).is_file():
            self.file.set(bare)

    def choose(self) -> None:
        """Choose the job."""
        found = filedialog.askopenfilename(parent=self.root, filetypes=_KINDS)
        if found:
            self.file.set(found)

    def see(self) -> None:
        """Open the job in the spreadsheet program of this PC."""
        if not Path(self.file.get()).is_file():
            self.status.set("There is no such file: choose a job first.")
            return
        click.launch(self.file.get())

    def press(self, step: DeskStep) -> None:
        """Ask what a step needs to know, or run it at once."""
        if self.running is not None:
            return
        if step.chosen and not Path(self.file.get()).is_file():
            self.status.set("Choose a job first.")
            return
        if step.asks:
            self.asked = AskWindow(self, step)
        else:
            self.start(step, {})

    def start(self, step: DeskStep, answers: dict[str, str]) -> bool:
        """Run a step; returns whether it was begun."""
        there = desk_steps.written(step, answers)
        names = ", ".join(path.name for path in there)
        if there and not messagebox.askyesno(
            TITLE, f"{names} is there already. Replace it?", parent=self.root
        ):
            return False
        try:
            self.waiting = desk_steps.commands_of(
                step, self.file.get(), answers, replace=bool(there)
            )
        except UsageError as error:
            self.status.set(f"{error.where}: {error.what}: {error.mend}")
            return False
        if step.name == "new":
            self.file.set(answers["target"])
        self._write(f"{step.label}\n", "head")
        self.stopped = False
        self._next()
        self.after(_LOOK_EVERY, self._look)
        return True

    def _next(self) -> None:
        words = self.waiting.pop(0)
        self.running = subprocess.Popen(  # noqa: S603 - this Python, and words without a shell
            [sys.executable, "-m", "pourbook", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
        )
        threading.Thread(target=self._listen, args=(self.running,), daemon=True).start()
        self.status.set("Working ...")
        self.bar.start(15)
        self.stop_button.configure(state="normal")
        for button in self.buttons.values():
            button.configure(state="disabled")

    def _listen(self, process: subprocess.Popen[str]) -> None:
        """Hand over what a command says, from a thread of its own."""
        assert process.stdout is not None
        with process.stdout as stream:
            for line in stream:
                self.said.put(line)
        process.wait()
        self.said.put(None)

    def _look(self) -> None:
        """Show what was said since the last look; go on with the next command, or end."""
        while True:
            try:
                line = self.said.get_nowait()
            except queue.Empty:
                break
            if line is None:
                self._ended()
                if self.running is None:
                    return
            else:
                self._write(line)
        self.after(_LOOK_EVERY, self._look)

    def _ended(self) -> None:
        assert self.running is not None
        code = -1 if self.stopped else self.running.returncode
        if code == 0 and self.waiting:
            self._next()
            return
        self.running = None
        self.waiting = []
        self.bar.stop()
        self.bar.configure(value=0)
        self.stop_button.configure(state="disabled")
        for button in self.buttons.values():
            button.configure(state="normal")
        said = desk_steps.outcome(code)
        self._write(f"{said}\n\n")
        self.status.set(said)

    def stop(self) -> None:
        """End the command that runs; what it writes it writes in one step, or not at all."""
        if self.running is not None:
            self.stopped = True
            self.waiting = []
            self.running.terminate()

    def leave(self) -> None:
        """Close the window; a command that runs is ended first."""
        self.stop()
        self.root.destroy()

    def _write(self, line: str, tag: str = "") -> None:
        self.told.configure(state="normal")
        at = 0
        for found in _CELL.finditer(line):
            self.told.insert("end", line[at : found.start()], tag)
            self.told.insert("end", found[0], "cell")
            at = found.end()
        self.told.insert("end", line[at:], tag)
        self.told.see("end")
        self.told.configure(state="disabled")

    def _cell(self, event: tk.Event[tk.Text]) -> None:
        """Open the job, and put the cell where it can be pasted into the name box."""
        at = self.told.index(f"@{event.x},{event.y}")
        first, last = self.told.tag_prevrange("cell", f"{at} +1c") or ("", "")
        if first:
            cell = self.told.get(first, last)
            self.clipboard_clear()
            self.clipboard_append(cell)
            self.status.set(f"{cell}: it can be pasted into the name box of the spreadsheet.")
            self.see()


class AskWindow(tk.Toplevel):
    """Asks what a step needs to know."""

    def __init__(self, desk: Desk, step: DeskStep) -> None:
        super().__init__(desk.root)
        self.desk, self.step = desk, step
        self.title(step.label)
        self.answers: dict[str, tk.StringVar] = {}
        self.fields: dict[str, tk.Widget] = {}
        body = ttk.Frame(self, padding=12)
        body.grid(sticky="nsew")
        body.columnconfigure(1, weight=1)
        ttk.Label(body, text=step.said).grid(row=0, column=0, columnspan=3, sticky="w")
        for row, ask in enumerate(step.asks, start=1):
            self._field(body, row, ask)
        feet = ttk.Frame(body)
        feet.grid(row=len(step.asks) + 1, column=0, columnspan=3, sticky="e", pady=(10, 0))
        self.missing = tk.StringVar()
        ttk.Label(feet, textvariable=self.missing).grid(row=0, column=0, padx=(0, 12))
        ttk.Button(feet, text="Cancel", command=self.destroy).grid(row=0, column=1, padx=(0, 8))
        self.go_button = ttk.Button(feet, text=step.label, command=self.go)
        self.go_button.grid(row=0, column=2)
        self.transient(desk.root)
        beside = desk.buttons[step.name]
        across = beside.winfo_rootx() + beside.winfo_width() + 24
        self.geometry(f"+{across}+{min(beside.winfo_rooty(), desk.told.winfo_rooty() + 160)}")
        self.bind("<Return>", lambda _: self.go())
        self.bind("<Escape>", lambda _: self.destroy())

    def _field(self, body: ttk.Frame, row: int, ask: Ask) -> None:
        usual = desk_steps.usual_of(ask, self.desk.file.get())
        answer = self.answers[ask.name] = tk.StringVar(value=usual)
        label = ask.label + (" *" if ask.needed else "")
        if ask.kind == YES:
            tick = ttk.Checkbutton(body, text=label, variable=answer, onvalue="yes", offvalue="")
            tick.grid(row=row, column=1, sticky="w", pady=3)
            self.fields[ask.name] = tick
            return
        ttk.Label(body, text=label).grid(row=row, column=0, sticky="w", padx=(0, 8), pady=3)
        entry = ttk.Entry(body, textvariable=answer, width=54)
        entry.grid(row=row, column=1, sticky="ew", pady=3)
        self.fields[ask.name] = entry
        if ask.kind in {OPEN, SAVE, FOLDER}:
            button = ttk.Button(body, text="...", width=3)
            button.configure(command=lambda: self._browse(ask))
            button.grid(row=row, column=2, padx=(6, 0))

    def _browse(self, ask: Ask) -> None:
        if ask.kind == FOLDER:
            found = filedialog.askdirectory(parent=self)
        elif ask.kind == SAVE:
            # whether a file may be replaced is asked once, when the step is begun
            found = filedialog.asksaveasfilename(parent=self, confirmoverwrite=False)
        else:
            found = filedialog.askopenfilename(parent=self)
        if found:
            self.answers[ask.name].set(found)

    def go(self) -> None:
        """Run the step, or say what is still missing."""
        answers = {name: answer.get() for name, answer in self.answers.items()}
        blank = [a.label for a in self.step.asks if a.needed and not answers[a.name].strip()]
        if blank:
            self.missing.set(f"Fill in: {blank[0]}")
            return
        if self.desk.start(self.step, answers):
            self.destroy()


def show(chosen: str = "", step: str = "") -> None:
    """Open the window, with a button pressed if one is named, and return when it is closed."""
    root = tk.Tk()
    desk = Desk(root, chosen)
    if step:
        root.after(_LOOK_EVERY, desk.buttons[step].invoke)
    root.mainloop()
