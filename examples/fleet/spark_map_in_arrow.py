"""Assess Parquet files on Spark: `spark_map_in_arrow.py IN OUT`. Needs pyspark, pandas and Java 17."""

import sys

from pyspark.sql import SparkSession
from pyspark.sql.pandas.types import from_arrow_schema

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import ASSESSED


def main(source: str, target: str) -> None:
    """Write a folder of Parquet files. `row` counts within each task; go by `reference`."""
    # `local[2,4]`: two cores of this machine, four attempts for a task whose worker dies. On a cluster, its address.
    spark = SparkSession.builder.master("local[2,4]").config("spark.ui.enabled", "false").getOrCreate()
    # A task sends this many rows at a time to Python.
    spark.conf.set("spark.sql.execution.arrow.maxRecordsPerBatch", "1024")
    rows = spark.read.parquet(source)
    rows.mapInArrow(assess_batches, from_arrow_schema(ASSESSED)).write.mode("overwrite").parquet(target)
    spark.stop()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
