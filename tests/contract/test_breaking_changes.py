"""A change that breaks callers is told; one that does not is let through."""

import json
from collections.abc import Callable, Iterable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from support.contract_tools import run

Json = dict[str, Any]


def offers(document: Json) -> set[str]:
    """Everything that a caller may ask for by name, which the comparing program does not all look at."""
    found = set()
    for path, methods in document["paths"].items():
        for method, about in methods.items():
            found |= {f"{method} {path}", f"operation {about['operationId']}"}
            found |= {f"{method} {path} takes {kind}" for kind in about.get("requestBody", {}).get("content", {})}
            found |= {f"{method} {path} gives {kind}" for kind in about["responses"]["200"]["content"]}
    return found | {f"schema {name}" for name in document["components"]["schemas"]}


def breaking(before: Path, after: Path) -> tuple[bool, str]:
    """Whether a caller of the one would fail with the other, and why."""
    result = run("redocly", "diff", str(before), str(after), "--fail-on=major")
    assert "diff processed" in result.stderr, result.stderr
    lost = offers(json.loads(before.read_bytes())) - offers(json.loads(after.read_bytes()))
    return result.returncode != 0 or bool(lost), f"{result.stdout}\nNo longer offered: {sorted(lost)}"


def test_nothing_breaks_since_the_baseline(root: Path) -> None:
    """Against the document as it was frozen, not the last one, so that small steps cannot add up to a break."""
    now = root / "openapi" / "openapi.json"
    major = json.loads(now.read_bytes())["info"]["version"].split(".")[0]
    baseline = root / "openapi" / f"baseline-v{major}.json"
    assert baseline.exists(), f"freeze the document: cp openapi/openapi.json {baseline.relative_to(root)}"
    assert json.loads(baseline.read_bytes())["info"]["version"] == f"{major}.0.0"
    breaks, told = breaking(baseline, now)
    assert not breaks, told


def _schema(document: Json, name: str) -> Json:
    schema: Json = document["components"]["schemas"][name]
    return schema


def _drop_path(document: Json) -> None:
    del document["paths"]["/v1/faults"]


def _drop_method(document: Json) -> None:
    document["paths"]["/v1/assessments"]["put"] = document["paths"]["/v1/assessments"].pop("post")


def _drop_answer_field(document: Json) -> None:
    schema = _schema(document, "Assessment")
    del schema["properties"]["checks"]
    schema["required"].remove("checks")


def _rename_answer_field(document: Json) -> None:
    schema = _schema(document, "Finding")
    schema["properties"]["cause"] = schema["properties"].pop("fault")
    schema["required"] = ["cause" if name == "fault" else name for name in schema["required"]]


def _answer_field_may_be_missing(document: Json) -> None:
    _schema(document, "Finding")["required"].remove("probability")


def _answer_field_changes_type(document: Json) -> None:
    _schema(document, "Candidate")["properties"]["log_evidence"]["type"] = "string"


def _new_required_request_field(document: Json) -> None:
    schema = _schema(document, "AssessmentRequest")
    schema["properties"]["site"] = {"type": "string"}
    schema["required"].append("site")


def _optional_becomes_required(document: Json) -> None:
    _schema(document, "AssessmentRequest")["required"].append("supply")


def _fewer_readings(document: Json) -> None:
    _schema(document, "AssessmentRequest")["properties"]["readings"]["maxItems"] = 100


def _narrower_bound(document: Json) -> None:
    for branch in _schema(document, "ReadVoltage")["oneOf"]:
        if "maximum" in branch:
            branch["maximum"] = 300.0


def _drop_accepted_value(document: Json) -> None:
    _schema(document, "PointName")["enum"].remove("service_panel")


def _drop_request_field(document: Json) -> None:
    del _schema(document, "Supply")["properties"]["frequency"]


def _drop_media_type(document: Json) -> None:
    content = document["paths"]["/v1/assessments/batch"]["post"]["requestBody"]["content"]
    content["application/json"] = content.pop("application/x-ndjson")


def _rename_operation(document: Json) -> None:
    document["paths"]["/v1/meters"]["get"]["operationId"] = "get_meters"


BREAKING: dict[Callable[[Json], None], str] = {
    _drop_path: "Path `/v1/faults` was removed",
    _drop_method: "Operation `POST /v1/assessments` was removed",
    _drop_answer_field: "Property `checks` of `x-line-schema` was removed",
    _rename_answer_field: "Property `fault` of `Finding` was removed",
    _answer_field_may_be_missing: "no longer required: `fault`, `probability`",
    _answer_field_changes_type: "Type of `log_evidence` widened from 'number' to 'string'",
    _new_required_request_field: "`AssessmentRequest` became required: `site`",
    _optional_becomes_required: "`AssessmentRequest` became required: `site`, `supply`",
    _fewer_readings: "`maxItems` of `readings` changed from '200' to '100'",
    _narrower_bound: "Upper bound changed from '<= 1000' to '<= 300'",
    _drop_accepted_value: "Enum of `PointName` lost values: 'service_panel'",
    _drop_request_field: "Property `frequency` of `Supply` was removed",
    _drop_media_type: "'post /v1/assessments/batch takes application/x-ndjson'",
    _rename_operation: "'operation list_meters'",
}
"""Changes that can be made together, and how each is told."""


def _new_path(document: Json) -> None:
    document["paths"]["/v1/faults2"] = deepcopy(document["paths"]["/v1/faults"])
    document["paths"]["/v1/faults2"]["get"]["operationId"] = "list_faults2"


def _new_optional_request_field(document: Json) -> None:
    _schema(document, "AssessmentRequest")["properties"]["site"] = {"type": "string"}


def _new_answer_field(document: Json) -> None:
    schema = _schema(document, "Assessment")
    schema["properties"]["weather"] = {"type": "string"}
    schema["required"].append("weather")


def _new_accepted_value(document: Json) -> None:
    _schema(document, "SupplySystem")["enum"].append("delta_240")


def _more_readings(document: Json) -> None:
    _schema(document, "AssessmentRequest")["properties"]["readings"]["maxItems"] = 400


SAFE: list[Callable[[Json], None]] = [
    _new_path, _new_optional_request_field, _new_answer_field, _new_accepted_value, _more_readings,
]  # fmt: skip


@pytest.mark.parametrize("changes", [BREAKING, SAFE], ids=["breaking", "safe"])
def test_seeded_changes_are_judged_rightly(
    root: Path, tmp_path: Path, changes: Iterable[Callable[[Json], None]]
) -> None:
    before = root / "openapi" / "openapi.json"
    document = json.loads(before.read_bytes())
    for change in changes:
        change(document)
    after = tmp_path / "after.json"
    after.write_text(json.dumps(document, indent=2), encoding="utf-8")
    breaks, told = breaking(before, after)
    assert breaks == (changes is BREAKING), told
    assert [words for words in BREAKING.values() if words not in told] == ([] if breaks else [*BREAKING.values()])
