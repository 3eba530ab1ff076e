"""Assessments over Arrow record batches: one function that any engine can run.

`assess_batches` takes an iterator of record batches and gives one, with the same columns always. It keeps nothing
between calls, starts no thread and needs no engine; so Spark's `mapInArrow`, a DuckDB reader, Dask, Ray or a plain
loop run it as it is. See `examples/fleet` for each.

What sets have in common is computed once: sets with the same arrangement (the same readings to take, of the same
circuit, with the same meters) stand together while they are assessed, and sets that also read the same are assessed
once. The answers are those of `feedproof.assess.assess`, digit for digit.
"""

from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import pyarrow as pa

from feedproof.fleet.admission import Document, Refused, admit_long, admit_nested, check_columns
from feedproof.fleet.answer import ANSWER_COLUMNS, Cell, answer, own_columns
from feedproof.fleet.ratebook import Ratebook
from feedproof.fleet.schema import assessed, form_of
from feedproof.inference.scene import Scene, canonical_form, without_values
from feedproof.readings import ReadingSet

AT_ONCE = 1024
"""Sets that are held in memory and ordered by arrangement at one time."""
REMEMBERED = 20_000
"""Answers kept for sets that read the same; about 4 kB each."""


class Unit(NamedTuple):
    """One reading set as it was found."""

    row: int
    """Its first row, counted from 1."""
    rows: list[Document]
    """One for the nested form, one for each reading for the long form."""
    refused: str | None = None
    """Why it cannot be read at all."""


class _Admitted(NamedTuple):
    place: int
    reading_set: ReadingSet
    arrangement: Scene
    same: tuple[object, ...]


class Assessor:
    """Assesses units; remembers the answers of sets that read the same.

    Parameters
    ----------
    form : str
        `nested` or `long`.
    keep : pyarrow.Schema, optional
        Columns of the input to carry along.
    rates : Ratebook, optional
        Base rates for sets that bring none.
    remembered : int
        Answers to keep.
    """

    def __init__(
        self,
        form: str,
        keep: pa.Schema | None = None,
        rates: Ratebook | None = None,
        remembered: int = REMEMBERED,
    ) -> None:
        self._admit = admit_long if form == "long" else _admit_one
        self._keep: list[str] = [] if keep is None else list(keep.names)
        self._own = [name for name in self._keep if form == "nested"]
        self._rates = rates
        self._remembered = remembered
        self._answers: OrderedDict[tuple[object, ...], tuple[Cell, ...]] = OrderedDict()
        self.schema: pa.Schema = assessed(keep)
        self.computed = 0
        """Sets that were assessed and not remembered."""

    def assess(self, units: Sequence[Unit], tell: Callable[[], None] = lambda: None) -> pa.RecordBatch:
        """Assess units.

        Parameters
        ----------
        units : sequence of Unit
            Not more than can be held in memory.
        tell : callable, optional
            Called once for each unit that has been dealt with.

        Returns
        -------
        pyarrow.RecordBatch
            One row for each unit, in their order; what cannot be assessed says why in `refused`.
        """
        cells: list[dict[str, Any]] = [self._known(unit) for unit in units]
        ordered = self._ordered(units, cells)
        for _ in range(len(units) - len(ordered)):
            tell()
        for item in ordered:
            try:
                cells[item.place].update(zip(ANSWER_COLUMNS, self._answer(item), strict=True))
            except Exception as error:  # noqa: BLE001 - one set must not take the others down
                cells[item.place]["refused"] = f"the model failed on it: {type(error).__name__}: {error}"[:300]
            else:
                cells[item.place].update(own_columns(item.reading_set))
            tell()
        return pa.RecordBatch.from_pylist(cells, schema=self.schema)

    def _known(self, unit: Unit) -> dict[str, Any]:
        """What is known of a unit before it is assessed."""
        first = unit.rows[0] if unit.rows else {}
        reference = first.get("reference")
        cells = {name: first.get(name) for name in self._keep}
        cells |= {"row": unit.row, "reference": reference if isinstance(reference, str) else None}
        return cells | {"refused": unit.refused}

    def _ordered(self, units: Sequence[Unit], cells: list[dict[str, Any]]) -> list[_Admitted]:
        """Units that are reading sets, those of one arrangement together; the others get their reason."""
        places: dict[Scene, list[_Admitted]] = {}
        for index, unit in enumerate(units):
            if unit.refused is not None:
                continue
            try:
                reading_set = self._admit(self._rated(unit)).reading_set
            except Refused as error:
                cells[index]["refused"] = str(error)
                continue
            canonical = canonical_form(reading_set)
            rates = tuple(sorted((reading_set.base_rates or {}).items()))
            same = (canonical.scene, canonical.mirrored, reading_set.base_rates is None, rates)
            arrangement = without_values(canonical.scene)
            places.setdefault(arrangement, []).append(_Admitted(index, reading_set, arrangement, same))
        return [item for place in places.values() for item in place]

    def _rated(self, unit: Unit) -> list[Document]:
        first = unit.rows[0]
        if self._rates is not None and first.get("base_rates") is None:
            first = first | {"base_rates": self._rates.of(first)}
        own = {name: value for name, value in first.items() if name not in self._own}
        return [own, *unit.rows[1:]]

    def _answer(self, item: _Admitted) -> tuple[Cell, ...]:
        known = self._answers.get(item.same)
        if known is not None:
            self._answers.move_to_end(item.same)
            return known
        self.computed += 1
        found = tuple(answer(item.reading_set).values())
        self._answers[item.same] = found
        if len(self._answers) > self._remembered:
            self._answers.popitem(last=False)
        return found


def _admit_one(rows: list[Document]) -> Any:  # noqa: ANN401
    return admit_nested(rows[0])


class Assembler:
    """Puts the rows of the long form together to sets, as they come."""

    def __init__(self) -> None:
        self._rows: list[Document] = []
        self._first = 0

    def add(self, row: int, document: Document) -> Unit | None:
        """Take a row; give the set before it, where the row begins another."""
        begins = not self._rows or document.get("reference") != self._rows[0].get("reference")
        if not (begins or document.get("reading") == 0):
            self._rows.append(document)
            return None
        before = self.rest()
        self._rows, self._first = [document], row
        return before

    def rest(self) -> Unit | None:
        """Give what has been put together so far."""
        rows, self._rows = self._rows, []
        return Unit(self._first, rows) if rows else None


def assess_batches(
    batches: Iterable[pa.RecordBatch],
    *,
    keep: pa.Schema | None = None,
    rates: Ratebook | None = None,
) -> Iterator[pa.RecordBatch]:
    """Assess reading sets that come as Arrow record batches.

    Parameters
    ----------
    batches : iterable of pyarrow.RecordBatch
        In one of the forms of `feedproof.fleet.schema`. In the long form all rows of one set must come through
        the same call, one after another.
    keep : pyarrow.Schema, optional
        Columns of the batches to carry along. A column that is neither in the form nor kept is refused.
    rates : Ratebook, optional
        Base rates for sets that bring none.

    Yields
    ------
    pyarrow.RecordBatch
        With the columns of `feedproof.fleet.schema.assessed(keep)`. Rows that are no reading sets are among
        them, with the reason in `refused`. `row` counts the rows that this call has been given, from 1.

    Raises
    ------
    ValueError
        If the columns are of neither form, or there are others that are not kept.
    """
    kept = [] if keep is None else list(keep.names)
    assessor: Assessor | None = None
    waiting: list[Unit] = []
    for unit in _units(batches, kept):
        if assessor is None:
            assessor = Assessor("long" if "reading" in unit.rows[0] else "nested", keep, rates)
        waiting.append(unit)
        if len(waiting) >= AT_ONCE:
            yield assessor.assess(waiting)
            waiting = []
    if assessor is not None and waiting:
        yield assessor.assess(waiting)


def _units(batches: Iterable[pa.RecordBatch], keep: Sequence[str]) -> Iterator[Unit]:
    row, form = 0, None
    assembler = Assembler()
    for batch in batches:
        if form is None:
            names = list(batch.schema.names)
            form = form_of(names)
            check_columns(names, form, keep)
        for start in range(0, batch.num_rows, AT_ONCE):
            for document in batch.slice(start, AT_ONCE).to_pylist():
                row += 1
                unit = Unit(row, [document]) if form == "nested" else assembler.add(row, document)
                if unit is not None:
                    yield unit
    last = assembler.rest()
    if last is not None:
        yield last
