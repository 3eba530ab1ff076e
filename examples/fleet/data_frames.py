"""Assess a data frame of pandas or Polars and look at it together: `data_frames.py IN OUT`. Needs pandas 3 or Polars.

A notebook shows what the last line of a cell gives: `report(...)` is tables with their pictures.
"""

import sys
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.report import Report, ReportOptions, report
from feedproof.fleet.schema import assessed, own_columns


def assess_frame(frame: Any) -> pa.Table:  # noqa: ANN401 - of whatever library
    """Assess whatever gives itself as an Arrow stream, with all columns of one's own."""
    reader = pa.RecordBatchReader.from_stream(frame)
    keep = own_columns(reader.schema)
    return pa.Table.from_batches(assess_batches(reader, keep=keep), assessed(keep))


def main(source: str, target: str) -> Report:
    """Write the assessments; give the report of them."""
    try:
        import polars as pl  # noqa: PLC0415 - either will do

        found = assess_frame(pl.read_parquet(source))
        pl.from_arrow(found).write_parquet(target)
    except ImportError:
        import pandas as pd  # noqa: PLC0415

        # Columns keep the types of the file; those that pandas guesses would make lists of numbers into objects.
        found = assess_frame(pq.read_table(source).to_pandas(types_mapper=pd.ArrowDtype))
        found.to_pandas(types_mapper=pd.ArrowDtype).to_parquet(target)
    return report(found, ReportOptions(by=("region",) if "region" in found.column_names else ()))


if __name__ == "__main__":
    print(main(sys.argv[1], sys.argv[2]))
