"""The commands over many jobs: month and learn, thin wrappers like those of :mod:`pourbook.cli`.

Contract: as of :mod:`pourbook.cli`, which lists them; nothing heavy is imported before
it is needed.
"""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

_FILE = click.Path(path_type=Path)
_DAY = click.DateTime(["%Y-%m-%d"])
SYSTEM_NAMES = ("us", "metric", "imperial")


@click.command()
@click.argument("folder", type=_FILE)
@click.argument("target", type=_FILE, metavar="OUT.XLSX")
@click.option("--from", "first", type=_DAY, help="First day: of a job its last date on Used.")
@click.option("--to", "last", type=_DAY, help="Last day.")
@click.option(
    "--units", type=click.Choice(SYSTEM_NAMES), help="Those of the first job if left out."
)
@click.option("--currency", default="", help="That of most jobs if left out; others stay out.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the totals for a machine.")
def month(
    folder: Path,
    target: Path,
    first: datetime | None,
    last: datetime | None,
    units: str | None,
    currency: str,
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Roll the jobs of a folder up into one workbook: money, products, lots, and every file.

    The folders below it count too. Each job is worked out anew; none is changed. Exit codes: 0 all
    is in it, 1 a job is not settled or was left out (the sheet Files says why), 2 wrong use.
    """
    from pourbook.commands.month_commands import run_month  # noqa: PLC0415

    code = run_month(
        folder,
        target,
        first=first.date() if first else None,
        last=last.date() if last else None,
        system=units or "",
        currency=currency,
        force=force,
        as_json=as_json,
    )
    sys.exit(code)


@click.command()
@click.argument("folder", type=_FILE)
@click.option("--shop", type=_FILE, help="The shop's workbook: write to its sheet Learned.")
@click.option(
    "--confidence",
    type=click.FloatRange(0.5, 0.999),
    help="How often the suggested loss is to be enough; the shop's if left out, else 0.9.",
)
@click.option("--json", "as_json", is_flag=True, help="Print what was learned for a machine.")
def learn(folder: Path, shop: Path | None, confidence: float | None, *, as_json: bool) -> None:
    """Learn from the settled jobs of a folder what is lost of each product, and the pace.

    By product, layer and surfaces: few jobs lean on the shop's own figure. Exit codes: 0 all was
    used, 1 a file or a layer of a settled job was left out (it is said why).
    """
    from pourbook.commands.learn_commands import run_learn  # noqa: PLC0415

    sys.exit(run_learn(folder, shop, confidence, as_json=as_json))
