"""Records that are made quickly: the classes at the start of the program, and each of them after.

Contract: :func:`dataclass` is that of the standard library. What it makes of a frozen class behaves
the same but in one thing: that nothing writes to a record is seen to by mypy, which knows it as
frozen, and not while the program runs. A class takes a fifth of the time to make so, of which a
check needs 150, and each record a sixth; to compare two takes three times as long, and a check of
the demo does it a hundred times.
"""

from __future__ import annotations

import dataclasses
from operator import attrgetter
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(cls=None, /, **how):
        """Return a class as a record, or what makes it one.

        Example:
            >>> @dataclass(frozen=True)
            ... class Pail:
            ...     litres: float
            ...     lid: bool = True
            >>> Pail(4.0), Pail(4.0) == Pail(4.0, lid=False), len({Pail(4.0), Pail(4.0)})
            (Pail(litres=4.0, lid=True), False, 1)
        """
        made = _quickly if how == {"frozen": True} else dataclasses.dataclass(**how)
        return made if cls is None else made(cls)


_NO = object()


def _quickly(cls: type) -> type:
    """Return a class as a record: with shared code for all that is not made of its own fields."""
    own = vars(cls)
    made: Any = dataclasses.dataclass(eq=False, repr=False)(cls)
    names = [one.name for one in dataclasses.fields(made) if one.compare]
    taken: Any = attrgetter(*names, names[0]) if names else type  # of one name too a tuple

    def equal(self: object, other: object) -> Any:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return taken(self) == taken(other)

    def hashed(self: object) -> int:
        return hash(taken(self))

    own_ways = {"__eq__": equal, "__hash__": hashed, "__repr__": _shown, "__getstate__": _kept}
    for name, one in own_ways.items():
        if own.get(name) is None:
            setattr(cls, name, one)
    return cls


def _kept(self: object) -> dict[str, object]:
    """Return what of a record is kept: what is left out is as its class has it, and most is."""
    usual = vars(type(self))
    return {name: one for name, one in vars(self).items() if one is not usual.get(name, _NO)}


def _shown(self: object) -> str:
    """Return a record as it would be written."""
    told: Any = self
    held = (f"{one.name}={getattr(told, one.name)!r}" for one in dataclasses.fields(told))
    return f"{type(self).__qualname__}({', '.join(held)})"
