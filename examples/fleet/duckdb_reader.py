"""Choose rows in SQL and assess what comes: `duckdb_reader.py IN OUT`. Needs DuckDB."""

import sys

import duckdb
import pyarrow.parquet as pq

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed, own_columns


def main(source: str, target: str) -> None:
    """Assess the sets that have a reading at all, in the order of their references."""
    # Or any other SQL: `duckdb.sql("SELECT ...")` gives rows in the same way.
    rows = duckdb.read_parquet(source).filter("len(readings) > 0").order("reference")
    reader = rows.to_arrow_reader(1024)
    # Region, outlet, part: what the table has beside the readings goes along.
    keep = own_columns(reader.schema)
    with pq.ParquetWriter(target, assessed(keep)) as writer:
        for batch in assess_batches(reader, keep=keep):
            writer.write_batch(batch)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
