"""Assessments over Arrow record batches: one function that any engine can run.

`assess_batches` takes record batches, or a data frame that gives itself as an Arrow stream, and gives record batches
with the same columns always. It keeps nothing between calls, starts no thread and needs no engine; so Spark's
`mapInArrow`, a DuckDB reader, Polars, pandas, Dask, Ray or a plain loop run it as it is. See `examples/fleet` for each.

What sets have in common is computed once: sets with the same arrangement (the same readings to take, of the same
circuit, with the same meters) stand together while they are assessed, and sets that also read the same, or the same
with the legs exchanged, are assessed once. The answers are those of `feedproof.assess.assess`, digit for digit.
"""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from itertools import chain, groupby, islice, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow as pa

from feedproof.fleet.admission import Document, Refused, admit_rows, check_columns
from feedproof.fleet.answer import ANSWER_COLUMNS, Cell, answer, own_columns
from feedproof.fleet.ratebook import Ratebook
from feedproof.fleet.schema import assessed, form_of, plainly
from feedproof.fleet.store import Store
from feedproof.inference import Likeness, likeness
from feedproof.readings import ReadingSet

AT_ONCE = 1024
"""Sets that are held in memory and ordered by arrangement at one time."""


class Unit(NamedTuple):
    """One reading set as it was found."""

    row: int
    """Its first row, counted from 1."""
    rows: list[Document]
    """One, or in the long form one for each reading."""
    refused: str | None = None
    """Why it cannot be read at all."""

    @property
    def reference(self) -> str | None:
        """The caller's own reference."""
        found = self.rows[0].get("reference")
        return found if isinstance(found, str) else None


class Assessor:
    """Assesses units; remembers the answers of sets that read the same.

    Parameters
    ----------
    form : str
        `nested`, `long` or `wide`.
    keep : pyarrow.Schema, optional
        Columns of the input to carry along.
    rates : Ratebook, optional
        Base rates for sets that bring none.
    store : Store, optional
        Where the answers of sets that read the same are kept; one of its own in memory.
    """

    def __init__(
        self, form: str, keep: pa.Schema | None = None, rates: Ratebook | None = None, store: Store | None = None
    ) -> None:
        self._form, self._rates, self._store = form, rates, Store() if store is None else store
        self._keep: list[str] = [] if keep is None else list(keep.names)
        self.schema: pa.Schema = assessed(keep)
        self.computed = 0
        """Sets that were assessed and not remembered."""

    def assess(self, units: Sequence[Unit]) -> pa.RecordBatch:
        """Assess units.

        Parameters
        ----------
        units : sequence of Unit
            Not more than can be held in memory.

        Returns
        -------
        pyarrow.RecordBatch
            One row for each unit, in their order; what cannot be assessed says why in `refused`.
        """
        cells: list[dict[str, Any]] = [
            {name: unit.rows[0].get(name) for name in self._keep}
            | {"row": unit.row, "reference": unit.reference, "refused": unit.refused}
            for unit in units
        ]
        alike: dict[Hashable, list[tuple[int, ReadingSet, Likeness]]] = {}
        for index, unit in enumerate(units):
            if unit.refused is None:
                try:
                    reading_set = admit_rows(self._form, self._rated(unit)).reading_set
                    like = likeness(reading_set)
                except Refused as error:
                    cells[index]["refused"] = str(error)
                except Exception as error:  # noqa: BLE001 - one set must not take the others down
                    cells[index]["refused"] = f"it cannot be read: {_failure(error)}"
                else:
                    alike.setdefault(like.arrangement, []).append((index, reading_set, like))
        for index, reading_set, like in chain.from_iterable(alike.values()):
            try:
                cells[index] |= self._answer(reading_set, like) | own_columns(reading_set)
            except Exception as error:  # noqa: BLE001 - one set must not take the others down
                cells[index]["refused"] = f"the model failed on it: {_failure(error)}"
        return pa.RecordBatch.from_pylist(cells, schema=self.schema)

    def _rated(self, unit: Unit) -> list[Document]:
        first = unit.rows[0]
        if self._rates is not None and first.get("base_rates") is None:
            first = first | {"base_rates": self._rates.of(first)}
        kept = self._keep
        return [{n: v for n, v in row.items() if n not in kept} for row in (first, *unit.rows[1:])]

    def _answer(self, reading_set: ReadingSet, like: Likeness) -> dict[str, Cell]:
        found = self._store.find(like)
        if found is None:
            self.computed += 1
            found = tuple(answer(reading_set).values())
            self._store.keep(like, found)
        return dict(zip(ANSWER_COLUMNS, found, strict=True))


def _failure(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"[:300]


APART = "its rows stand apart: sort the file by reference and reading, and give each set a reference of its own"


def units_of(rows: Iterable[tuple[int, Document, str | None]], form: str) -> Iterator[Unit]:
    """Put rows together to sets.

    Parameters
    ----------
    rows : iterable of (int, dict, str or None)
        Number, cells, and why it cannot be read.
    form : str
        `nested`, `long` or `wide`.

    Yields
    ------
    Unit
        In the order of the rows. In the long form the rows of a reference that follow each other are a set; where the
        reference comes again, that is no set but refused.
    """
    named = ((row, _named(document), problem) for row, document, problem in rows)

    def belongs(entry: tuple[int, Document, str | None]) -> Hashable:
        row, document, problem = entry
        return row if form != "long" or problem else (_key(document),)

    seen: set[int] = set()
    sets = ([*own] for _, own in groupby(named, belongs))
    for own, after in pairwise(chain(sets, ([],))):
        row, document, problem = own[0]
        if form == "long" and not problem:
            key = hash(_key(document))
            if after and after[0][2]:
                # The unreadable row may belong to the set before it, which is therefore refused too.
                problem = f"row {after[0][0]}, which may belong to it, cannot be read"
            elif key in seen:
                problem = APART
            seen.add(key)
        yield Unit(row, [document for _, document, _ in own], problem)


def _key(document: Document) -> Hashable:
    """What the rows of one set have in common: a list or an object as its text, which no other row's is by chance."""
    reference = document.get("reference")
    return repr(reference) if isinstance(reference, dict | list) else reference


def _named(document: Document) -> Document:
    """A row whose reference is text: a database's own may be a number."""
    reference = document.get("reference")
    return document | {"reference": str(reference)} if type(reference) is int else document


def assess_batches(
    batches: Any,  # noqa: ANN401 - of whoever gives itself as an Arrow stream
    *,
    keep: pa.Schema | None = None,
    rates: Ratebook | None = None,
    store: Path | None = None,
) -> Iterator[pa.RecordBatch]:
    """Assess reading sets that come as Arrow record batches.

    Parameters
    ----------
    batches : iterable of pyarrow.RecordBatch, or Arrow data
        In one of the forms of `feedproof.fleet.schema`; a data frame of pandas or Polars passes as it is. In the long
        form all rows of one set must come through the same call, one after another.
    keep : pyarrow.Schema, optional
        Columns of the batches to carry along. A column that is neither in the form nor kept is refused;
        `feedproof.fleet.schema.own_columns` gives all that are not in the form.
    rates : Ratebook, optional
        Base rates for sets that bring none.
    store : Path, optional
        File with answers that calls and processes of one machine share: see `feedproof.fleet.store`.

    Yields
    ------
    pyarrow.RecordBatch
        With the columns of `feedproof.fleet.schema.assessed(keep)`. Rows that are no reading sets are among
        them, with the reason in `refused`. `row` counts the rows that this call has been given, from 1.

    Raises
    ------
    ValueError
        If the columns are of no form, or there are others that are not kept.
    """
    if hasattr(batches, "__arrow_c_stream__"):
        batches = pa.RecordBatchReader.from_stream(batches)
    given = iter(batches)
    first = next(given, None)
    if first is None:
        return
    form = form_of(first.schema.names)
    check_columns(first.schema.names, form, [] if keep is None else keep.names)
    documents = (
        document
        for batch in chain((first,), given)
        for start in range(0, batch.num_rows, AT_ONCE)
        for document in plainly(batch.slice(start, AT_ONCE)).to_pylist()
    )
    units = units_of(((row, document, None) for row, document in enumerate(documents, start=1)), form)
    assessor = Assessor(form, keep, rates, Store(store))
    while waiting := list(islice(units, AT_ONCE)):
        yield assessor.assess(waiting)
