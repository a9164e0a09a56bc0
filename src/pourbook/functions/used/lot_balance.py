"""What was mixed from each lot, held against what was issued of it.

Contract: :func:`overdrawn` takes batches and lots in SI units and names every batch with which more
of a lot was mixed than the receipts say was issued. A lot on no receipt is not judged here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from pourbook import units
from pourbook.tables.used.log_rows import LoggedBatch
from pourbook.tables.used.lots import Known, KnownLot

SLACK = 0.02
"""Share by which scales and densities may make more of a can than stands on it (common practice,
no source)."""


def overdrawn(
    log: Sequence[LoggedBatch], known: Known, system: units.System
) -> dict[int, list[str]]:
    """Return what is wrong with the batches that took more than there was, by ``id(batch)``.

    Args:
        log: The batches that could be read.
        known: The lots; see :func:`pourbook.tables.used.lots.known_lots`.
        system: The job's units, for the words.
    """
    drawn: dict[tuple[str, str], float] = defaultdict(float)
    found: dict[int, list[str]] = defaultdict(list)
    for batch in sorted(log, key=lambda one: one.started):
        took: dict[tuple[str, str], float] = defaultdict(float)
        for key, volume in _draws(batch, known):
            took[key] += volume
        for key, volume in took.items():
            drawn[key] += volume
            issued = known[key].issued
            if issued is not None and drawn[key] > max(issued, 0.0) * (1 + SLACK):
                mixed, had = (
                    f"{units.express(v, system.volume):.3g}" for v in (drawn[key], max(issued, 0.0))
                )
                lot = next(s.lot for _, s in batch.lots if s.lot.casefold() == key[1])
                words = f"{mixed} {system.volume} of lot {lot} mixed by then, {had} issued"
                found[id(batch)].append(words)
    return dict(found)


def _draws(batch: LoggedBatch, known: Known) -> Iterator[tuple[tuple[str, str], float]]:
    """Give what each part took from which lot, m³; a part without a lot came with the kit."""
    name = batch.coat.product.name.casefold()
    lots = {part: scanned.lot.casefold() for part, scanned in batch.lots}
    kits = [
        lot for lot in lots.values() if lot and "kit" in known.get((name, lot), KnownLot()).holds
    ]
    letters = "ABC"[: len(batch.masses)]
    parts = zip(letters, batch.masses, batch.coat.product.densities, strict=True)
    for part, mass, density in parts:
        lot = lots.get(part) or next(iter(kits), "")
        if lot and (name, lot) in known:
            yield (name, lot), mass / density
