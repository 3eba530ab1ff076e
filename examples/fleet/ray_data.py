"""Assess a Parquet file, or a folder of them, on Ray Data: `ray_data.py IN OUT`. Needs ray[data]."""

import sys

import pyarrow as pa
import ray

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed, own_columns


def work(table: pa.Table) -> pa.Table:
    """Assess a block."""
    # Region, outlet, part: what the table has beside the readings goes along.
    keep = own_columns(table.schema)
    return pa.Table.from_batches(assess_batches(table.to_batches(), keep=keep), assessed(keep))


def main(source: str, target: str) -> None:
    """Write a folder of Parquet files. `row` counts within each block; go by `reference`."""
    rows = ray.data.read_parquet(source)
    rows.map_batches(work, batch_format="pyarrow", batch_size=1024).write_parquet(target)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
