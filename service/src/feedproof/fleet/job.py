"""What a run over a file is to do."""

from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from feedproof.fleet.ratebook import Ratebook


class Job(Struct, frozen=True, kw_only=True):
    """What to assess, and how.

    Raises
    ------
    ValueError
        If there are no workers, or a share is none.
    """

    source: str
    target: str
    rejects: str
    keep: Sequence[str] = ()
    """Columns to carry along; `*` for all that the form does not have."""
    ignore: Sequence[str] = ()
    rates: Ratebook | None = None
    workers: int = 1
    where: str | None = None
    """Condition in SQL on `row`, `reference` and the columns to keep."""
    sample: float = 1.0
    """Share of the sets, the same ones each time [1]."""
    append: bool = False
    """Add to what is there the sets whose reference it does not have."""
    overwrite: bool = False
    store: str | None = None
    """File with answers that runs share; None: this run's own, and gone with it."""
    most_rejects: int | None = None

    def __post_init__(self) -> None:
        """Refuse numbers that make no sense."""
        if self.workers < 1 or not 0.0 < self.sample <= 1.0:
            raise ValueError("workers number at least 1; the share of a sample lies above 0, and is at most 1")

    @property
    def parts(self) -> Path:
        """Folder of what is done so far: beside the target, or here where that is in an object store."""
        target = Path(self.target)
        return (Path.cwd() if "://" in self.target else target.parent) / f"{target.name}.parts"

    @property
    def answers(self) -> Path:
        """File of the store."""
        return self.parts / "answers.sqlite" if self.store is None else Path(self.store)

    def part(self, index: int) -> Path:
        """Where a chunk is written down."""
        return self.parts / f"part-{index:08d}.arrow"
