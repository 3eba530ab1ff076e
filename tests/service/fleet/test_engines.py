"""The same function on engines that others run, started here: the same answers as on a single machine."""

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet
import pytest

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import own_columns
from support.fleets import nested_row, nested_table, simulated

COUNT = 48
REGION = pa.field("region", pa.string())
EXAMPLES = Path(__file__).resolve().parents[3] / "examples" / "fleet"

# A worker that kills itself in the middle of its first task, in place of the machine that fails one day.
KILLED_ONCE = """
import os, signal, sys
from pathlib import Path
import pyarrow as pa
import pyarrow.parquet as pq
from feedproof.fleet.batches import assess_batches
from feedproof.fleet.schema import assessed

source, target, marker = sys.argv[1:]
KEEP = pa.schema([("region", pa.string())])
SCHEMA = assessed(KEEP)

def work(batches):
    for batch in assess_batches(batches, keep=KEEP):
        yield batch
        try:
            os.close(os.open(marker, os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            continue
        os.kill(os.getpid(), signal.SIGKILL)

def main():
    ENGINE

if __name__ == "__main__":
    main()
"""
ON_SPARK = """
    from pyspark.sql import SparkSession
    from pyspark.sql.pandas.types import from_arrow_schema

    spark = SparkSession.builder.master("local[2,4]").config("spark.ui.enabled", "false").getOrCreate()
    spark.conf.set("spark.sql.execution.arrow.maxRecordsPerBatch", "8")
    spark.read.parquet(source).repartition(2).mapInArrow(work, from_arrow_schema(SCHEMA)).write.parquet(target)
    spark.stop()
"""
ON_DASK = """
    from dask.distributed import Client

    def one(path):
        with pq.ParquetFile(path) as file:
            return pa.Table.from_batches(work(file.iter_batches(8)), SCHEMA)

    Path(target).mkdir()
    files = sorted(Path(source).glob("*.parquet"))
    with Client(n_workers=2, threads_per_worker=1, dashboard_address=None) as client:
        for path, table in zip(files, client.gather(client.map(one, files)), strict=True):
            pq.write_table(table, Path(target) / path.name)
"""
ON_RAY = """
    import ray

    def block(table):
        return pa.Table.from_batches(work(table.to_batches(max_chunksize=8)), SCHEMA)

    rows = ray.data.read_parquet(source)
    rows.map_batches(block, batch_format="pyarrow", batch_size=24).write_parquet(target)
"""


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rows = [nested_row(f"visit {n:03d}", readings) for n, (_, readings) in enumerate(simulated(COUNT, seed=31))]
    rows[5]["readings"][0]["value"] = -5.0
    path = tmp_path_factory.mktemp("fleet") / "fleet.parquet"
    regions = pa.array(["lake", "hill", None] * (COUNT // 3), pa.string())
    pyarrow.parquet.write_table(nested_table(rows).append_column(REGION, regions), path, row_group_size=16)
    return path


def bare(table: pa.Table) -> list[dict[str, Any]]:
    """Give rows by reference, without the row numbers, which count within a task."""
    rows: list[dict[str, Any]] = table.drop_columns(["row"]).to_pylist()
    return sorted(rows, key=lambda row: str(row["reference"]))


@pytest.fixture(scope="module")
def wanted(fleet: Path) -> list[dict[str, Any]]:
    keep = pa.schema([REGION])
    return bare(pa.Table.from_batches(list(assess_batches(pyarrow.parquet.read_table(fleet).to_batches(), keep=keep))))


def engine(module: str) -> None:
    if importlib.util.find_spec(module) is None:
        pytest.skip(f"{module} is not installed")


def spark() -> None:
    engine("pyspark")
    if shutil.which("java") is None:
        pytest.skip("Java is not installed")


@pytest.fixture(scope="module")
def engines(root: Path) -> str:
    """Give the Python of an environment with engines that are too large for that of all tests."""
    provide = "import environment; print(environment.provide_engines())"
    done = subprocess.run(
        [sys.executable, "-c", provide], cwd=root / ".ci", capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.splitlines()[-1]


def ran(*arguments: object, python: str = sys.executable) -> None:
    own = {"PYSPARK_PYTHON": python, "SPARK_LOCAL_IP": "127.0.0.1", "RAY_USAGE_STATS_ENABLED": "0"}
    done = subprocess.run(
        [python, *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=580,
        check=False,
        env=os.environ | own,
    )
    assert done.returncode == 0, done.stderr[-3000:]


def killed(engine_lines: str, source: Path, tmp_path: Path, python: str = sys.executable) -> pa.Table:
    """Give what comes of a run in which a worker is killed in the middle."""
    script = tmp_path / "killed_once.py"
    script.write_text(KILLED_ONCE.replace("    ENGINE\n", engine_lines), encoding="utf-8")
    marker = tmp_path / "killed"
    ran(script, source, tmp_path / "out", marker, python=python)
    assert marker.exists()
    return read(tmp_path / "out")


@pytest.fixture
def folder(fleet: Path, tmp_path: Path) -> Path:
    """Give the fleet as two files."""
    path = tmp_path / "in"
    path.mkdir()
    table = pyarrow.parquet.read_table(fleet)
    for n in range(2):
        pyarrow.parquet.write_table(table.slice(n * COUNT // 2, COUNT // 2), path / f"{n}.parquet")
    return path


def read(path: Path) -> pa.Table:
    files = sorted(path.glob("*.parquet")) if path.is_dir() else [path]
    return pa.concat_tables([pyarrow.parquet.read_table(file) for file in files])


def test_a_pool_of_the_standard_library(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path) -> None:
    ran(EXAMPLES / "process_pool.py", fleet, tmp_path / "out.parquet")
    assert bare(read(tmp_path / "out.parquet")) == wanted


def test_duckdb(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path) -> None:
    engine("duckdb")
    ran(EXAMPLES / "duckdb_reader.py", fleet, tmp_path / "out.parquet")
    found = read(tmp_path / "out.parquet")
    assert bare(found) == wanted
    assert found["row"].to_pylist() == list(range(1, COUNT + 1))


def test_duckdb_reads_the_lines_that_the_service_takes(wanted: list[dict[str, Any]], tmp_path: Path) -> None:
    """DuckDB makes structures of JSON objects in place of maps: both pass."""
    engine("duckdb")
    import duckdb  # noqa: PLC0415

    lines = tmp_path / "fleet.ndjson"
    rows = [nested_row(f"visit {n:03d}", readings) for n, (_, readings) in enumerate(simulated(COUNT, seed=31))][:4]
    lines.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    reader = duckdb.read_json(str(lines)).to_arrow_reader(2)
    found = bare(pa.Table.from_batches(list(assess_batches(reader))))
    assert found == [{name: value for name, value in row.items() if name != "region"} for row in wanted[:4]]


def test_the_sql_recipe_makes_the_nested_form_of_one_reading_a_row() -> None:
    engine("duckdb")
    import duckdb  # noqa: PLC0415

    base = duckdb.connect()
    base.execute((EXAMPLES / "nest.sql").read_text(encoding="utf-8"))
    reader = base.sql("FROM nested ORDER BY reference").to_arrow_reader(10)
    (batch,) = assess_batches(reader, keep=own_columns(reader.schema))
    first, second = batch.to_pylist()
    assert (first["region"], first["readings"], first["refused"]) == ("lake", 3, None)
    assert (first["finding_place"], first["determination"]) == ("branch_neutral", "established")
    assert (second["region"], second["readings"], second["finding"]) == ("hill", 2, "none_found")
    assert "running high_impedance" in second["layout"]


def test_the_recipe_goes_through_a_file_as_well(tmp_path: Path) -> None:
    """DuckDB writes numbers as decimals, which the run takes as numbers."""
    engine("duckdb")
    import duckdb  # noqa: PLC0415

    base = duckdb.connect()
    base.execute((EXAMPLES / "nest.sql").read_text(encoding="utf-8"))
    base.sql("FROM nested").write_parquet(str(tmp_path / "visits.parquet"))
    ran("-m", "feedproof", "fleet", tmp_path / "visits.parquet", tmp_path / "out.parquet", "--keep", "*", "--quiet")
    assert set(read(tmp_path / "out.parquet")["readings"].to_pylist()) == {2, 3}


@pytest.mark.slow
@pytest.mark.parametrize("lacking", ["", "polars"], ids=["polars", "pandas"])
def test_data_frames(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path, engines: str, lacking: str) -> None:
    """On Polars, and where that is not there on pandas 3; the report shows itself as text too."""
    script = tmp_path / "frames.py"
    hide = f"sys.modules[{lacking!r}] = None\n" if lacking else ""
    script.write_text(f"import sys\n{hide}sys.path.insert(0, {str(EXAMPLES)!r})\nimport data_frames\n"
                      "print(data_frames.main(*sys.argv[1:]))\n", encoding="utf-8")  # fmt: skip
    ran(script, fleet, tmp_path / "out.parquet", python=engines)
    assert bare(read(tmp_path / "out.parquet")) == wanted


@pytest.mark.slow
def test_a_file_system_of_fsspec(engines: str) -> None:
    check = """
import pyarrow as pa
from feedproof.fleet.files import exists, files_of, read_rows
from feedproof.fleet.writing import write_batches
table = pa.table({"reference": ["a", "b"], "readings": [[], []]})
for place in ("fsspec+memory://box/visits/1.parquet", "fsspec+memory://box/visits.ndjson.gz"):
    write_batches(place, table.schema, table.to_batches())
    assert [document["reference"] for _, document, _ in read_rows(place)] == ["a", "b"]
assert files_of("fsspec+memory://box/visits") == ["fsspec+memory://box/visits/1.parquet"]
assert not exists("fsspec+memory://box/other.csv")
"""
    ran("-c", check, python=engines)


@pytest.mark.slow
def test_spark(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path) -> None:
    spark()
    ran(EXAMPLES / "spark_map_in_arrow.py", fleet, tmp_path / "out")
    assert bare(read(tmp_path / "out")) == wanted


@pytest.mark.slow
def test_spark_with_a_worker_killed_in_the_middle(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path) -> None:
    spark()
    assert bare(killed(ON_SPARK, fleet, tmp_path)) == wanted


@pytest.mark.slow
def test_dask(folder: Path, wanted: list[dict[str, Any]], tmp_path: Path, engines: str) -> None:
    ran(EXAMPLES / "dask_files.py", folder, tmp_path / "out", python=engines)
    assert bare(read(tmp_path / "out")) == wanted


@pytest.mark.slow
def test_ray(fleet: Path, wanted: list[dict[str, Any]], tmp_path: Path, engines: str) -> None:
    ran(EXAMPLES / "ray_data.py", fleet, tmp_path / "out", python=engines)
    assert bare(read(tmp_path / "out")) == wanted


@pytest.mark.slow
@pytest.mark.parametrize(("script", "source"), [(ON_DASK, "folder"), (ON_RAY, "fleet")], ids=["dask", "ray"])
def test_a_worker_killed_in_the_middle(
    script: str,
    source: str,
    wanted: list[dict[str, Any]],
    tmp_path: Path,
    engines: str,
    request: pytest.FixtureRequest,
) -> None:
    assert bare(killed(script, request.getfixturevalue(source), tmp_path, engines)) == wanted
