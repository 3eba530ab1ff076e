"""Assess a folder of Parquet files on Dask, one task for each: `dask_files.py IN OUT`. Needs dask[distributed]."""

import sys
from pathlib import Path

import pyarrow.parquet as pq
from dask.distributed import Client

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed, own_columns


def work(source: Path, target: Path) -> int:
    """Assess one file; gives the number of its sets."""
    temporary = target.with_suffix(".unfinished")
    with pq.ParquetFile(source) as file:
        # Region, outlet, part: what the table has beside the readings goes along.
        keep = own_columns(file.schema_arrow)
        with pq.ParquetWriter(temporary, assessed(keep)) as writer:
            for batch in assess_batches(file.iter_batches(1024), keep=keep):
                writer.write_batch(batch)
    temporary.replace(target)
    return int(pq.read_metadata(target).num_rows)


def main(source: str, target: str) -> None:
    """Write a file for each file. Without an address, `Client` starts workers on this machine."""
    Path(target).mkdir(exist_ok=True)
    files = sorted(Path(source).glob("*.parquet"))
    with Client(n_workers=2, threads_per_worker=1, dashboard_address=None) as client:
        done = client.map(work, files, [Path(target) / file.name for file in files])
        print(sum(client.gather(done)), "sets")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
