"""What settled jobs say of the loss of a product, from the table of Buying.

Contract: :func:`settled_losses` gives the figures by product in small letters; a row that cannot be
read is refused under its product. What is blank means what its heading's help says.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook.cells import Rows, Value, is_blank, number, refuse_errors, text
from pourbook.errors import InputError, PourbookError, RangeError
from pourbook.records import dataclass
from pourbook.tables.declared import declared
from pourbook.tables.row_loop import by_name

TABLE = declared("settled_losses")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
USUAL_SPREAD, WORTH = 0.3, 4.0
"""What a new shop reckons with: the scatter of jobs, and how many jobs its own figure weighs as
much as (common practice, no source)."""


@dataclass(frozen=True)
class SettledLoss:
    """A loss as learned; ``loss`` is None where the job's own planned loss holds."""

    loss: float | None = None
    spread: float = USUAL_SPREAD
    jobs: float = 0.0


def settled_losses(rows: Rows) -> Mapping[str, SettledLoss | PourbookError]:
    """Return the rows of the table by product."""
    return by_name(rows, COLUMNS, "loss_of", _read, _twice)


def _twice(name: str) -> InputError:
    return InputError(f"'{name}' has two rows", "leave one", LABELS["loss_of"])


def _read(row: dict[str, Value]) -> SettledLoss:
    try:
        refuse_errors(row, LABELS)
        loss = None if is_blank(row["settled_loss"]) else _share(row)
        spread = number(row["settled_spread"], LABELS["settled_spread"], USUAL_SPREAD)
        jobs = number(row["settled_jobs"], LABELS["settled_jobs"], 0.0)
        if not 0 < spread <= 3:
            raise RangeError(f"it is {spread:g}", "type 0.01 to 3", LABELS["settled_spread"])
        if not 0 <= jobs <= 10_000:
            raise RangeError(f"it is {jobs:g}", "type 0 to 10000", LABELS["settled_jobs"])
        return SettledLoss(loss, spread, jobs)
    except PourbookError as error:
        raise error.under(text(row["loss_of"])) from None


def _share(row: Mapping[str, Value]) -> float:
    loss = number(row["settled_loss"], LABELS["settled_loss"])
    if not 0.001 <= loss < 1:
        mend = "type 0.1 % to below 100 %"
        raise RangeError(f"{loss * 100:.4g} %", mend, LABELS["settled_loss"])
    return loss
