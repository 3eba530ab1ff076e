"""Common generators take the published document as it is, what they make compiles, and calls a live service.

Each caller assesses the same invented visit: low-impedance readings near zero to both legs, the legs full, so nothing
is behind the neutral (common practice, no source).
"""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from support import generators
from support.contract_tools import HOME, require_tools
from support.generators import CALLERS, DOCUMENT, compile_typescript, run
from support.service_process import LiveService, running_service

pytestmark = pytest.mark.slow

UNIT = [["/readings/0/value", "wrong_dimension"]]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveService]:
    with running_service(tmp_path_factory.mktemp("service") / "log", log_level="error") as live:
        yield live


@pytest.fixture(scope="module")
def programs() -> Path:
    return generators.provide()


def check(told: str, refused: list[list[str]], **others: object) -> None:
    answer: dict[str, Any] = json.loads(told)
    assert answer.pop("headline").startswith("Branch neutral")
    assert answer == {
        "fault": "open_neutral",
        "conductor": "N",
        "determination": "established",
        "first_id": "legs",
        "refused": refused,
        **others,
    }


def test_the_shipped_types_are_those_of_the_document(root: Path, tmp_path: Path) -> None:
    require_tools()
    made = tmp_path / "feedproof.d.ts"
    run("node", HOME / "types.mjs", DOCUMENT, made, folder=tmp_path)
    shipped = root / "openapi" / "feedproof.d.ts"
    told = "run: node tests/contract/tools/types.mjs openapi/openapi.json openapi/feedproof.d.ts"
    assert shipped.read_text(encoding="utf-8") == made.read_text(encoding="utf-8"), told


def test_openapi_typescript_with_openapi_fetch(root: Path, tmp_path: Path, service: LiveService) -> None:
    shutil.copy(root / "openapi" / "feedproof.d.ts", tmp_path)
    script = compile_typescript(tmp_path, "openapi_fetch.ts")
    check(run("node", script, service.url, folder=tmp_path), UNIT, note=True)


def test_openapi_generator_for_typescript_fetch(programs: Path, tmp_path: Path, service: LiveService) -> None:
    command = (programs / "openapi-generator-cli", "generate", "-i", DOCUMENT, "-g", "typescript-fetch")
    run(*command, "-o", "client", "--additional-properties=importFileExtension=.js", folder=tmp_path, programs=programs)
    script = compile_typescript(tmp_path, "typescript_fetch.ts")
    check(run("node", script, service.url, folder=tmp_path), UNIT)


def test_openapi_generator_for_python(programs: Path, tmp_path: Path, service: LiveService) -> None:
    command = (programs / "openapi-generator-cli", "generate", "-i", DOCUMENT, "-g", "python", "-o", tmp_path)
    run(*command, folder=tmp_path, programs=programs)
    shutil.copy(CALLERS / "openapi_generator.py", tmp_path / "call.py")
    undefined = [["/readings/0/meter", "undefined_meter"]]
    check(run(programs / "python", "call.py", service.url, folder=tmp_path), undefined, lines=1)


def test_openapi_python_client(programs: Path, tmp_path: Path, service: LiveService) -> None:
    (tmp_path / "settings.yml").write_text(generators.LINES_AS_BYTES, encoding="utf-8")
    command = (programs / "openapi-python-client", "generate", "--path", DOCUMENT, "--config", "settings.yml")
    told = run(*command, "--meta", "none", "--output-path", "feedproof_client", folder=tmp_path, programs=programs)
    assert "WARNING" not in told, told
    run(programs / "python", "-m", "compileall", "-q", "feedproof_client", folder=tmp_path)
    shutil.copy(CALLERS / "openapi_python_client.py", tmp_path / "call.py")
    check(run(programs / "python", "call.py", service.url, folder=tmp_path), UNIT)


def test_datamodel_code_generator(programs: Path, tmp_path: Path, service: LiveService) -> None:
    command = (programs / "datamodel-codegen", "--input", DOCUMENT, "--input-file-type", "openapi")
    options = ("--output-model-type", "pydantic_v2.BaseModel", "--formatters", "builtin", "--output", "models.py")
    run(*command, *options, folder=tmp_path, programs=programs)
    shutil.copy(CALLERS / "datamodel_code_generator.py", tmp_path / "call.py")
    check(run(programs / "python", "call.py", service.url, folder=tmp_path), [["/readings/0/kind", "not_accepted"]])
