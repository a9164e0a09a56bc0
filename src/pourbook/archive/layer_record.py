"""What a settled job shows of each of its layers: film, mix, area and time.

Contract: figures of :class:`LayerRecord` are SI and rest on values the fast engine worked out anew.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import OK, is_refused, word
from pourbook.dates import from_serial
from pourbook.errors import InputError
from pourbook.formats.gs1 import read_scan
from pourbook.records import dataclass
from pourbook.tables.measured import todays_surfaces
from pourbook.workbook.check.check import Checked
from pourbook.workbook.read.named import NamedCells

DAY = 86_400.0
_HALF = 0.5


@dataclass(frozen=True)
class LayerRecord:
    """What a settled job shows of one layer.

    Attributes:
        product: The product of the layer.
        layer: Its name on Layers.
        surfaces: The surfaces it was put on, as Layers says.
        film: Mix that stayed on the surface, as read or else as quoted for the area, m³.
        mixed: Mix made for it, m³; None where it is not known.
        readings: Wet film readings it rests on.
        spread: Area of the batches whose area and times were noted, m².
        seconds: From mixing to all spread, of the same batches, s.
        how: How the mix was told apart from that of the product's other layers, or why it is not
            known.
        mixer: Who mixed more than half of it, by the log; blank where nobody did.
        lot: The lot of part A that more than half of it is from; blank where none is.
        substrate: What all surveyed rooms of the job stand on; blank where they differ.
    """

    product: str
    layer: str
    surfaces: str
    film: float
    mixed: float | None
    readings: int
    spread: float
    seconds: float
    how: str
    mixer: str = ""
    lot: str = ""
    substrate: str = ""

    @property
    def loss(self) -> float | None:
        """Return what was mixed and did not stay, a fraction; None where it cannot be told.

        It cannot where the mix is not known, nothing was mixed or stayed, or more stayed than was
        mixed.
        """
        if self.mixed is None or self.mixed <= 0.0 or self.film <= 0.0 or self.film > self.mixed:
            return None
        return 1.0 - self.film / self.mixed


class JobReader(NamedCells):
    """Reads a checked job."""

    def __init__(self, checked: Checked) -> None:
        super().__init__(checked.plan, checked.book, checked.values)


def lot_code(typed: str, day: float | None) -> str:
    """Return the lot of a typed or scanned text; a code that cannot be read stays as it is.

    Example:
        >>> lot_code("(01)09506000134352(10)L-7", 46000.0), lot_code(" L-7 ", None)
        ('L-7', 'L-7')
    """
    try:
        scan = read_scan(typed, from_serial(day or 0.0).date())
    except InputError:
        return typed.strip()
    return scan.lot or typed.strip()


def logged_product(reader: JobReader, row: int) -> str:
    """Return the product of a logged batch, by its layer where the row could not be worked out."""
    found = reader.words("used", "used_product", row)
    if found and not is_refused(found):
        return found
    layer = word(reader.value("log", "layer", row))
    for other in reader.rows("layers", "layer"):
        if word(reader.value("layers", "layer", other)) == layer:
            return reader.words("layers", "product", other)
    return ""


def layers_of(reader: JobReader) -> list[LayerRecord]:
    """Return the layers of a settled job with the mix that each of them took."""
    system = reader.plan.system
    film: dict[tuple[str, str], float] = {}
    readings: dict[tuple[str, str], int] = {}
    for row in reader.rows("settle_layers", "layer"):
        key = (
            reader.words("settle_layers", "product", row),
            reader.words("settle_layers", "layer", row),
        )
        film[key] = film.get(key, 0.0) + reader.number("settle_layers", "film_actual", row)
        readings[key] = int(reader.number("settle_layers", "readings", row))
    logged: dict[tuple[str, str], float] = {}
    for row in reader.rows("log", "layer"):
        key = word(logged_product(reader, row)), word(reader.value("log", "layer", row))
        volume = reader.number_or_none("used", "used_volume", row) or 0.0
        logged[key] = logged.get(key, 0.0) + volume
    mixes = _mixes(reader, film, logged)
    substrate = _substrate(reader)
    found = []
    for (product, layer), stayed in film.items():
        mixed, how = mixes[product, layer]
        area, seconds = _spread(reader, layer)
        found.append(
            LayerRecord(
                product,
                layer,
                _surfaces(reader, layer),
                units.to_si(stayed, system.volume),
                None if mixed is None else units.to_si(mixed, system.volume),
                readings[product, layer],
                units.to_si(area, system.area),
                seconds,
                how,
                mixer=_most(reader, layer, "mixed_by"),
                lot=_most(reader, layer, "lot_a"),
                substrate=substrate,
            )
        )
    return found


def _mixes(
    reader: JobReader, film: dict[tuple[str, str], float], logged: dict[tuple[str, str], float]
) -> dict[tuple[str, str], tuple[float | None, str]]:
    """Return the mix of each layer: what the count says of the product, shared out.

    What was logged is by the words of product and layer; see
    :func:`pourbook.cells.word`.

    By the log's shares where log and count agree; where the product was not logged at all but was
    counted, by film. Else it is not known.
    """
    found: dict[tuple[str, str], tuple[float | None, str]] = {}
    counted = {word(reader.value("left", "product", row)) for row in reader.rows("left", "product")}
    of_product = {
        word(reader.value("settle", "product", row)): row
        for row in reader.rows("settle", "product")
    }
    for key, stayed in film.items():
        product, layer = (word(name) for name in key)
        row = of_product.get(product)
        if row is None:
            found[key] = None, "the product is not on Settle"
            continue
        by_count = reader.number("settle", "by_count", row)
        by_log = sum(volume for (name, _), volume in logged.items() if name == product)
        all_film = sum(volume for (name, _), volume in film.items() if word(name) == product)
        if by_log > 0.0 and reader.words("settle", "verdict", row) != OK:
            found[key] = None, "log and count do not agree"
        elif by_log > 0.0 and (product, layer) not in logged:
            found[key] = None, "no batch was logged for this layer"
        elif by_log > 0.0:
            found[key] = by_count * logged[product, layer] / by_log, "by log"
        elif product in counted and all_film > 0.0:
            found[key] = by_count * stayed / all_film, "by film"
        else:
            found[key] = None, "neither logged nor counted"
    return found


def _spread(reader: JobReader, layer: str) -> tuple[float, float]:
    """Return the area and the seconds of a layer's batches where both were noted."""
    area = seconds = 0.0
    for row in reader.rows("log", "layer"):
        over = reader.number_or_none("log", "spread_over", row)
        began, ended = (reader.number_or_none("log", name, row) for name in ("started", "ended"))
        if word(reader.value("log", "layer", row)) != word(layer):
            continue
        if over is not None and began is not None and ended is not None and ended > began:
            area += over
            seconds += (ended - began) * DAY
    return area, seconds


def _surfaces(reader: JobReader, layer: str) -> str:
    """Return the surfaces of a layer of the accepted option, as Layers says."""
    option = word(reader.value("quoted", "option", 0))
    found = [
        reader.words("layers", "surfaces", row)
        for row in reader.rows("layers", "layer")
        if word(reader.value("layers", "layer", row)) == word(layer)
        and word(reader.value("layers", "option", row)) == option
    ]
    return ", ".join(dict.fromkeys(map(todays_surfaces, found)))


def called_back(reader: JobReader) -> tuple[str, ...]:
    """Return the lots a job was called back for, each once."""
    if "callbacks" not in reader.plan.places:
        return ()
    rows = reader.rows("callbacks", "called_lot")
    lots = [
        lot_code(
            reader.words("callbacks", "called_lot", row),
            reader.number_or_none("callbacks", "called_on", row),
        )
        for row in rows
    ]
    return tuple(dict.fromkeys(lots))


def _most(reader: JobReader, layer: str, name: str) -> str:
    """Return whose more than half of a layer's mix is, by the log; nothing where nobody's is."""
    if name not in {item.id for item in reader.plan.block("log").columns}:
        return ""
    shares: dict[str, float] = {}
    spelled: dict[str, str] = {}
    for row in reader.rows("log", "layer"):
        if word(reader.value("log", "layer", row)) != word(layer):
            continue
        said = reader.words("log", name, row)
        if name == "lot_a" and said:
            said = lot_code(said, reader.number_or_none("log", "started", row))
        volume = reader.number_or_none("used", "used_volume", row) or 0.0
        shares[word(said)] = shares.get(word(said), 0.0) + volume
        spelled.setdefault(word(said), said)
    whole = sum(shares.values())
    for key, volume in shares.items():
        if key and volume > _HALF * whole:
            return spelled[key]
    return ""


def _substrate(reader: JobReader) -> str:
    """Return what all surveyed rooms of a job stand on; nothing where they differ."""
    names = {
        found
        for row in range(reader.plan.block("survey").rows)
        if (found := reader.words("survey", "substrate", row)) and not is_refused(found)
    }
    return names.pop() if len(names) == 1 else ""
