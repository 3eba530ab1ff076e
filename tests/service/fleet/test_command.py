"""The commands as a person gives them, and what they say where the extra is not installed."""

import subprocess
import sys

import pytest

WITHOUT = """
import sys
sys.modules["{module}"] = None
from feedproof.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    "arguments", [["fleet", "a.csv", "b.csv"], ["fleet-rates", "a", "b"], ["fleet-report", "a", "b"]]
)
@pytest.mark.parametrize("module", ["pyarrow", "matplotlib"])
def test_without_the_extra_it_says_how_to_install_it(module: str, arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT.format(module=module), *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert 'pip install "feedproof[fleet]"' in done.stderr


def test_the_service_loads_none_of_it() -> None:
    check = (
        "import sys, feedproof.cli, feedproof.app; print(sorted({'pyarrow', 'matplotlib', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert "pyarrow" not in done.stdout
    assert "matplotlib" not in done.stdout


@pytest.mark.parametrize("form", ["nested", "long", "assessed"])
def test_the_columns_are_printed(form: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "feedproof", "fleet-schema", form],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "reference: string." in done.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(["a.csv", "b.json", "--level", "1.5"], "--level"), (["a.csv", "./a.csv", "--overwrite"], "assessments itself")],
)
def test_what_rates_cannot_use_is_refused(arguments: list[str], said: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "feedproof", "fleet-rates", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert said in done.stderr
