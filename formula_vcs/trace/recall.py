"""Where a lot went: the batches that hold it, through premix lots to any depth, with how much of it and the packs."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.errors import UserError
from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import Records, made_when


@dataclass(frozen=True, slots=True)
class LotTaken:
    """One batch that holds some of a lot.

    ``ways`` are the chains of premix batches that it came by, the nearest to the lot first; () is straight.  ``mass``
    is how much of the lot is in it in kg, None where a weighing is missing on the way; it counts what was weighed, not
    what was lost.  ``premix`` says that it is none to sell: other batches of the list took it up and no packs were
    filled of it, or its recipe is a premix.  ``taken_up`` says that some of it is in other batches.
    """

    batch: Batch
    ways: tuple[tuple[str, ...], ...]
    mass: Fraction | None
    premix: bool
    taken_up: bool


@dataclass(frozen=True, slots=True)
class Recall:
    """All that a lot went into.

    ``lot`` is its id, ``on_file`` its file where there is one, ``batch`` the batch that made it where it is a premix.
    ``unread`` are files of batches that cannot be read: what is in them is not known.  ``unnamed`` are batches that
    weighed some of the material and name no lot of it.  ``circle`` says that batches name each other as lots in a
    circle.
    """

    asked: str
    lot: str
    on_file: Lot | None
    batch: Batch | None
    taken: tuple[LotTaken, ...]
    unread: tuple[str, ...]
    circle: bool
    unnamed: tuple[str, ...] = ()

    @property
    def finished(self) -> tuple[LotTaken, ...]:
        """Give the batches that are no premix, or of which packs were filled: what went to customers, or may."""
        return tuple(item for item in self.taken if not item.premix)

    @property
    def in_stock(self) -> tuple[str, ...]:
        """Name the premix batches that no batch took up: they stand in the store, for all that is recorded."""
        return tuple(item.batch.id for item in self.taken if item.premix and not item.taken_up)

    @property
    def packs(self) -> int:
        """Add up the packs that are recorded."""
        return sum(item.batch.packs or 0 for item in self.finished)

    @property
    def unknown_packs(self) -> tuple[str, ...]:
        """Name the finished batches that do not say how many packs were filled."""
        return tuple(item.batch.id for item in self.finished if item.batch.packs is None)

    @property
    def open_batches(self) -> tuple[str, ...]:
        """Name the batches that are not closed."""
        return tuple(item.batch.id for item in self.taken if item.batch.closed is None)


_MOST_WAYS = 20


def recall(records: Records, asked: str) -> Recall:
    """Find what a lot went into, by the id of its file or of its batch, or by the supplier's own number.

    :raises UserError: nothing is known of such a lot, or several lots have that number.
    """
    name = found_lot(records, asked)
    names = called(records, name)
    ways: dict[str, list[tuple[str, ...]]] = {}
    circle = False
    waiting: list[tuple[tuple[str, ...], tuple[str, ...]]] = [(names, ())]
    while waiting:
        lots, way = waiting.pop()
        for batch in (batch for lot in lots for batch in records.takers.get(lot, ())):
            if batch.id in (*way, name):
                circle = True
                continue
            known = ways.setdefault(batch.id, [])
            if len(known) < _MOST_WAYS:
                known.append(way)
                waiting.append(((batch.id,), (*way, batch.id)))
    weigher = _Weigher(records, names)
    batches = sorted((batch for batch in records.batches if batch.id in ways), key=made_when)
    taken = []
    for batch in batches:
        chains = tuple(sorted(ways[batch.id], key=lambda chain: (len(chain), chain)))
        up = any(other.id in ways and other.id != batch.id for other in records.takers.get(batch.id, ()))
        premix = not batch.packs and (up or _is_premix(records, batch))
        taken.append(LotTaken(batch, chains, weigher.inside(batch), premix, up))
    unnamed = tuple(_unnamed(records, name))
    return Recall(asked, name, records.lot(name), records.batch(name), tuple(taken), records.unread, circle, unnamed)


def _unnamed(records: Records, name: str) -> Iterable[str]:
    """Name the batches that hold some of a lot's material and do not say from which lot."""
    lot = records.lot(name)
    material = None if lot is None else lot.ingredient
    for batch in records.batches:
        portions = [one for charge in batch.charges if charge.ingredient == material for one in charge.weighings]
        if any(one.lot is None and one.weighed is not None for one in portions):
            yield batch.id


def _is_premix(records: Records, batch: Batch) -> bool:
    recipe = None if batch.recipe is None else records.snapshot.recipe(batch.recipe)
    return recipe is not None and recipe.get("product") == "premix"


def found_lot(records: Records, asked: str) -> str:
    """Give the id of a lot that a person names.

    :raises UserError: see `recall`.
    """
    if records.lot(asked) is not None or asked in records.takers or records.batch(asked) is not None:
        return asked
    wanted = asked.casefold()
    found = [lot.id for lot in records.lots if (lot.number or "").casefold() == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        raise UserError(f"several lots have the number '{asked}': {', '.join(found)}; name one by its file")
    from formula_vcs.toml.takers import nearest

    numbers = [lot.number for lot in records.lots if lot.number is not None]
    known = dict.fromkeys((*(lot.id for lot in records.lots), *records.takers, *numbers))
    raise UserError(f"no lot is called '{asked}', and no batch names one{nearest(asked, known)}")


def called(records: Records, name: str) -> tuple[str, ...]:
    """Give all that batches call a lot: its id, and its supplier's number where nothing else is called so."""
    lot = records.lot(name)
    number = "" if lot is None else (lot.number or "").casefold()
    others = [
        word
        for word in records.takers
        if number and word != name and word.casefold() == number and not _else(records, word)
    ]
    alike = [other.id for other in records.lots if number and (other.number or "").casefold() == number]
    return (name, *others) if len(alike) == 1 else (name,)


def _else(records: Records, word: str) -> bool:
    return records.lot(word) is not None or records.batch(word) is not None


class _Weigher:
    """Works out how much of a lot is in a batch, from the inside out: a chain of premixes can be of any length."""

    def __init__(self, records: Records, names: tuple[str, ...]) -> None:
        self.records = records
        self.names = names
        self._known: dict[str, Fraction | None] = {}

    def inside(self, batch: Batch) -> Fraction | None:
        waiting, begun = [batch], {batch.id}
        while waiting:
            here = waiting[-1]
            inner = next(
                (made for made in self._premixes(here) if made.id not in self._known and made.id not in begun), None
            )
            if inner is None:
                self._known[here.id] = _added(self._parts(here))
                waiting.pop()
            else:
                begun.add(inner.id)
                waiting.append(inner)
        return self._known[batch.id]

    def _premixes(self, batch: Batch) -> Iterable[Batch]:
        for lot in batch.lots:
            made = self.records.batch(lot) if lot not in self.names and self.records.lot(lot) is None else None
            if made is not None:
                yield made

    def _parts(self, batch: Batch) -> Iterable[Fraction | None]:
        for charge in batch.charges:
            for portion in charge.weighings:
                if portion.lot is None:
                    continue
                weighed = None if portion.weighed is None else portion.weighed.base
                if portion.lot in self.names:
                    yield weighed
                    continue
                share = self._share(portion.lot)
                if share != 0:
                    yield None if weighed is None or share is None else weighed * share

    def _share(self, lot: str) -> Fraction | None:
        """Give how much of a premix lot is the lot that is looked for, by the size that its weighings add up to."""
        made = self.records.batch(lot) if self.records.lot(lot) is None else None
        if made is None:
            return Fraction(0)
        inside = self._known.get(made.id)  # one that is still open goes round in a circle
        if inside is None or inside == 0:
            return inside
        weighed = [charge.weighed for charge in made.charges]
        whole = _added(weighed) if all(mass is not None for mass in weighed) else None
        size = whole or (None if made.size is None else made.size.base)
        return None if not size else inside / size


def _added(parts: Iterable[Fraction | None]) -> Fraction | None:
    total = Fraction(0)
    for part in parts:
        if part is None:
            return None
        total += part
    return total
