"""Two strict public linters' recommended rules over the published document, with no exception."""

from pathlib import Path

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


def test_they_bite(root: Path, tmp_path: Path) -> None:
    text = (root / "openapi" / "openapi.json").read_text(encoding="utf-8")
    for cut, put in (
        ('"#/components/schemas/Finding"', '"#/components/schemas/Missing"'),
        ('"operationId": "assess"', '"operationId": "assess_batch"'),
        ('"probability": 0.', '"probability": 7.'),
    ):
        assert cut in text
        text = text.replace(cut, put)
    spoiled = tmp_path / "openapi.json"
    spoiled.write_text(text, encoding="utf-8")
    told = run("spectral", "lint", str(spoiled), "-r", "spectral.yaml", "--fail-severity=hint").stdout
    for rule in ("invalid-ref", "operation-operationId-unique", "oas3-valid-media-example"):
        assert rule in told, told
    told = run("redocly", "lint", str(spoiled), "--config=redocly-lint.yaml").stdout
    for rule in ("no-unresolved-refs", "operation-operationId-unique", "no-invalid-media-type-examples"):
        assert rule in told, told
