"""Measure the service: `python3 tests/run.py --with python tests/benchmarks/run.py [--parts NAME,NAME] [--quick]`.

Needs what the tests need (both distributions installed, dynesty for the comparison with a nested sampler) and, for the
comparison with a circuit simulator, `ngspice` on the path; what is missing is left out and said so. The service is
measured in an environment of its own, as its users install it (set up on the first run); `--here` measures it in this
one. `--fleet-files 1000,20000` measures fleets of so many sets. Takes four minutes on two idle cores; `--quick` takes
some tens of seconds and only shows that every part runs.

Prints a table and writes `build/benchmarks.json`. Figures stand beside a ratio to something measured in the same run,
since machines differ; nothing here is ever asserted. Servers bind to loopback and the number of requests is bounded.
"""

import argparse
import json
import platform
import sys
import time
import traceback
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / ".ci")]

import environment  # noqa: E402

from benchmarks.parts.parts import PARTS, Budget, Row, measured, missing, table  # noqa: E402


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Measure the service; ratios in one run.")
    parser.add_argument("--parts", default=",".join(PARTS), help=f"which of {', '.join(PARTS)}, with commas between")
    parser.add_argument("--quick", action="store_true", help="tiny counts: shows that every part runs")
    parser.add_argument(
        "--here", action="store_true", help="start the service in this environment, not in one of its own"
    )
    parser.add_argument("--fleet-files", metavar="SETS,SETS", help="reading sets in each file of the part `fleet`")
    parser.add_argument("--json", type=Path, default=ROOT / "build" / "benchmarks.json", help="where the JSON goes")
    return parser.parse_args()


def main() -> int:
    """Measure, print, and write down."""
    arguments = _arguments()
    wanted = arguments.parts.split(",")
    unknown = [name for name in wanted if name not in PARTS]
    if unknown:
        sys.exit(f"no part is called {', '.join(unknown)}; there are {', '.join(PARTS)}")
    # Packages that only the tests need make any program that finds them larger and slower to start.
    python = sys.executable if arguments.here else str(environment.provide_service())
    budget = replace(Budget.quick() if arguments.quick else Budget(), python=python)
    if arguments.fleet_files:
        budget = replace(budget, fleet_files=tuple(int(count) for count in arguments.fleet_files.split(",")))
    rows: list[Row] = []
    failed = []
    began = time.perf_counter()
    for name in wanted:
        started = time.perf_counter()
        try:
            found = measured(name, budget)
        except Exception as error:  # noqa: BLE001 - one part that fails must not hide the others
            failed.append(name)
            found = [missing(PARTS[name], "it failed, see above")]
            traceback.print_exception(error)
        rows += found
        print(f"\n== {name}: {PARTS[name]} ({time.perf_counter() - started:.0f} s)\n{table(found)}", flush=True)
    report = {
        "python": platform.python_version(),
        "machine": platform.machine(),
        "quick": arguments.quick,
        "seconds": round(time.perf_counter() - began, 1),
        "rows": [row.plain() for row in rows],
    }
    arguments.json.parent.mkdir(parents=True, exist_ok=True)
    arguments.json.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    print(f"\nWritten to {arguments.json}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
