"""Assess Parquet files on Spark: `spark_map_in_arrow.py IN OUT`. Needs pyspark, pandas and Java 17."""

import sys
from functools import partial

from pyspark.sql import SparkSession
from pyspark.sql.pandas.types import from_arrow_schema, to_arrow_schema

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed, own_columns


def main(source: str, target: str) -> None:
    """Write a folder of Parquet files. `row` counts within each task; go by `reference`."""
    # `local[2,4]`: two cores of this machine, four attempts for a task whose worker dies. On a cluster, its address.
    spark = SparkSession.builder.master("local[2,4]").config("spark.ui.enabled", "false").getOrCreate()
    # A task sends this many rows at a time to Python.
    spark.conf.set("spark.sql.execution.arrow.maxRecordsPerBatch", "1024")
    rows = spark.read.parquet(source)
    # Region, outlet, part: what the table has beside the readings goes along.
    keep = own_columns(to_arrow_schema(rows.schema))
    work = partial(assess_batches, keep=keep)
    rows.mapInArrow(work, from_arrow_schema(assessed(keep))).write.mode("overwrite").parquet(target)
    spark.stop()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
