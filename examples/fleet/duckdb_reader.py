"""Choose rows in SQL and assess what comes: `duckdb_reader.py IN OUT`. Needs DuckDB."""

import sys

import duckdb
import pyarrow.parquet as pq

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import ASSESSED


def main(source: str, target: str) -> None:
    """Assess the sets that have a reading at all, in the order of their references."""
    # Or any other SQL: `duckdb.sql("SELECT ...")` gives rows in the same way.
    rows = duckdb.read_parquet(source).filter("len(readings) > 0").order("reference")
    with pq.ParquetWriter(target, ASSESSED) as writer:
        for batch in assess_batches(rows.to_arrow_reader(1024)):
            writer.write_batch(batch)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
