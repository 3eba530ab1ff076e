"""Run the tests: `python3 tests/run.py [pytest arguments]`.

Sets up an environment of its own first (Python 3.11 or later and pip are all it needs). Without arguments it runs the
everyday suite, on two processors; `-m slow` runs the long proofs (add `-n auto` for all processors; those that measure
time are marked `alone` and are not run beside others: `-m "slow and not alone"`, `-m "slow and alone"`).
`--with PROGRAM ARGUMENTS` runs another program of the environment.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / ".ci"))
#: Two processes, each of which takes from the other's tests when it has done its own. Never more: tests that count
#: what their file has sent stand at the beginning, and must come to one process.
EVERYDAY = ["-n", "2", "--dist", "worksteal"]

import environment  # noqa: E402


def compile_engine(python: Path) -> None:
    """Let one process compile the engine before several need it."""
    visit = ROOT / "examples" / "requests" / "every_kind_of_reading.json"
    command = [str(python), "-m", "feedproof", "assess", str(visit)]
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)


def main() -> int:
    """Run pytest, or the program after `--with`, in the environment."""
    python = environment.provide_tests()
    arguments = sys.argv[1:]
    if arguments[:1] == ["--with"]:
        program, *rest = arguments[1:]
        command = [str(python), *rest] if program == "python" else [str(python.parent / program), *rest]
    else:
        command = [str(python), "-m", "pytest", *(arguments or EVERYDAY)]
        if not arguments or "-n" in arguments:
            compile_engine(python)
    return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
