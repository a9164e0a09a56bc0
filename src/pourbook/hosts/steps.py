"""The steps of the work, in order: what the window, Calc's menu and Excel's ribbon show of each.

Contract: plain data, said once. What a step runs and asks is for the window to know.
"""

from __future__ import annotations

from pourbook.records import dataclass


@dataclass(frozen=True)
class WorkStep:
    """A step: its name, the label of its button, what it does in a sentence, and its group."""

    name: str
    label: str
    said: str
    group: str


WORK = (
    WorkStep("new", "New job", "Make a job workbook.", "Quote"),
    WorkStep(
        "check",
        "Work out and check",
        "Work the job out anew, store it, and name what is to fix.",
        "Quote",
    ),
    WorkStep("papers", "Papers", "Write the papers for client, crew and bookkeeper.", "Quote"),
    WorkStep("accept", "Accept", "Freeze the quote when the client says yes.", "Quote"),
    WorkStep("log", "Log", "Bring in the batches as the crew wrote them down.", "Work"),
    WorkStep("receipts", "Receipts", "Bring in an invoice or a slip.", "Work"),
    WorkStep("books", "Books copy", "Write the copy for a bookkeeper without Pourbook.", "Books"),
    WorkStep(
        "take", "Take from copy", "Take what was typed in a books copy back into the job.", "Books"
    ),
    WorkStep("settle", "Settle", "Used against quoted, and the journal.", "Books"),
    WorkStep("close", "Close job", "Close the settlement, or book what came after.", "Books"),
    WorkStep(
        "stock", "Stock", "Book in the shop what the job took from the shelf and gave back.", "Shop"
    ),
    WorkStep("open", "What is open", "Every job of a folder, and what it lacks.", "Shop"),
    WorkStep("month", "Month", "Roll the jobs of a folder up into one workbook.", "Shop"),
    WorkStep(
        "board", "Board", "Put all jobs of a folder on one calendar, with the shop's stock.", "Shop"
    ),
)
