"""Two strict public linters' recommended rules over the published document, with no exception."""

from pathlib import Path

import pytest

from support.contract_tools import run


def test_spectral_finds_nothing(root: Path) -> None:
    result = run(
        "spectral", "lint", str(root / "openapi" / "openapi.json"), "-r", "spectral.yaml", "--fail-severity=hint"
    )
    assert result.returncode == 0, result.stdout + result.stderr


def test_redocly_finds_nothing(root: Path) -> None:
    result = run(
        "redocly", "lint", str(root / "openapi" / "openapi.json"), "--config=redocly-lint.yaml", "--max-problems=50"
    )
    assert result.returncode == 0, result.stdout + result.stderr
    assert "warning" not in result.stderr.replace("Deprecation warning", "")


@pytest.mark.parametrize(
    ("cut", "put"),
    [
        ('"#/components/schemas/Finding"', '"#/components/schemas/Missing"'),
        ('"operationId": "assess"', '"operationId": "assess_batch"'),
        ('"probability": 0.', '"probability": 7.'),
    ],
)
def test_they_bite(root: Path, tmp_path: Path, cut: str, put: str) -> None:
    text = (root / "openapi" / "openapi.json").read_text(encoding="utf-8")
    assert cut in text
    spoiled = tmp_path / "openapi.json"
    spoiled.write_text(text.replace(cut, put), encoding="utf-8")
    results = [
        run("spectral", "lint", str(spoiled), "-r", "spectral.yaml", "--fail-severity=hint"),
        run("redocly", "lint", str(spoiled), "--config=redocly-lint.yaml"),
    ]
    assert all(result.returncode for result in results)
