"""Assess a Parquet file over all cores with the standard library: `process_pool.py IN OUT`."""

import multiprocessing
import sys
from concurrent.futures import ProcessPoolExecutor

import pyarrow as pa
import pyarrow.parquet as pq

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed, own_columns


def work(group: tuple[str, int]) -> list[pa.RecordBatch]:
    """Assess one row group of the file."""
    path, number = group
    with pq.ParquetFile(path) as file:
        return list(assess_batches(file.read_row_group(number).to_batches(), keep=own_columns(file.schema_arrow)))


def main(source: str, target: str) -> None:
    """Write the assessments in the order of the rows."""
    groups = [(source, number) for number in range(pq.read_metadata(source).num_row_groups)]
    # "spawn" starts each process afresh, on every system alike.
    with (
        # Region, outlet, part: what the table has beside the readings goes along.
        pq.ParquetWriter(target, assessed(own_columns(pq.read_schema(source)))) as writer,
        ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool,
    ):
        for batches in pool.map(work, groups):
            for batch in batches:
                writer.write_batch(batch)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
