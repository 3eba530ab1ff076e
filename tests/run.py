"""Run the tests: `python3 tests/run.py [pytest arguments]`.

Sets up an environment of its own first (Python 3.11 or later and pip are all it needs). Without arguments it runs the
everyday suite; `-m slow` runs the long proofs. `--with PROGRAM ARGUMENTS` runs another program of the environment.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / ".ci"))

import environment  # noqa: E402


def main() -> int:
    """Run pytest, or the program after `--with`, in the environment."""
    python = environment.provide_tests()
    arguments = sys.argv[1:]
    if arguments[:1] == ["--with"]:
        program, *rest = arguments[1:]
        command = [str(python), *rest] if program == "python" else [str(python.parent / program), *rest]
    else:
        command = [str(python), "-m", "pytest", *arguments]
    return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
