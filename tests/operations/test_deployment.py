"""The files under docker/: each is what its own tool takes it for, and they speak of metrics and settings that exist.

The tools come with the environment of the tests, but for promtool, of Debian's `prometheus`, which `.ci/run` fetches.
One that is not there leaves its tests out.
"""

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.telemetry.metrics import REFUSALS

# Made by whoever scrapes.
SCRAPED = {"up"}
NAME = re.compile(r"\b(?:feedproof|process)_[a-z_]+\b")
SETTING = re.compile(r"\bFEEDPROOF_([A-Z_]+)\b")


def tool(name: str) -> str:
    """Give a program, from the environment of the tests or the path."""
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed")
    return found


def check(*command: str, given: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, input=given, capture_output=True, text=True, timeout=120, check=False)


@pytest.fixture(scope="module")
def exposed(visit: bytes) -> Iterator[str]:
    """Give the metrics of the application after some work."""
    with TestClient(create_app(Settings(warm_up=False))) as client:
        client.post("/v1/assessments", content=visit, headers={"Content-Type": "application/json"})
        client.get("/nowhere")
        yield client.get("/metrics").text


def expressions(docker: Path) -> Iterator[tuple[str, str]]:
    """Give every query, and where it stands."""
    dashboard = json.loads((docker / "grafana/dashboards/feedproof.json").read_text())
    for panel in dashboard["panels"]:
        for target in panel.get("targets", []):
            yield f"panel {panel['title']!r}", target["expr"]
    for note in dashboard["annotations"]["list"]:
        yield "annotation", note["expr"]
    text = (docker / "prometheus/alerts.yaml").read_text()
    yield "alerts", text


def test_every_query_is_of_metrics_labels_and_reasons_that_there_are(docker: Path, exposed: str) -> None:
    names = set(re.findall(r"^([a-z_]+)(?:\{| )", exposed, re.MULTILINE))
    labels = set(re.findall(r'[{,]([a-z_]+)="', exposed)) | {"job", "instance"}
    for where, expression in expressions(docker):
        assert set(NAME.findall(expression)) <= names | SCRAPED, where
        for matcher in re.findall(r"\{([^{}]*=[^{}]*)\}", expression):
            for label, operator, value in re.findall(r'([a-z_]+)\s*(=~|!~|!=|=)\s*"([^"]*)"', matcher):
                assert label in labels, f"{where}: {label}"
                if label == "reason" and operator == "=~":
                    assert set(value.split("|")) <= set(REFUSALS), where


def test_every_panel_says_what_it_shows_and_in_which_unit(docker: Path) -> None:
    panels = json.loads((docker / "grafana/dashboards/feedproof.json").read_text())["panels"]
    assert len({panel["id"] for panel in panels}) == len(panels)
    taken: set[tuple[int, int]] = set()
    for panel in panels:
        place = panel["gridPos"]
        cells = {(place["x"] + column, place["y"] + line) for column in range(place["w"]) for line in range(place["h"])}
        assert place["x"] + place["w"] <= 24
        assert not taken & cells, panel["title"]
        taken |= cells
        if panel["type"] != "row":
            assert panel["description"].endswith(".")
            assert panel["fieldConfig"]["defaults"]["unit"]


def test_the_dashboard_draws_the_bounds_at_which_somebody_is_woken(docker: Path) -> None:
    alerts = (docker / "prometheus/alerts.yaml").read_text()
    bounds = {
        alert.split()[0]: float(found[1])
        for alert in alerts.split("- alert: ")[1:]
        if (found := re.search(r"> ([\d.e]+)\s+(?:for|labels):", alert))
    }
    panels = json.loads((docker / "grafana/dashboards/feedproof.json").read_text())["panels"]
    drawn = {
        panel["title"]: [step["value"] for step in panel["fieldConfig"]["defaults"]["thresholds"]["steps"][1:]]
        for panel in panels
        if "thresholds" in panel.get("fieldConfig", {}).get("defaults", {})
    }
    for panel, alert in {
        "Failures": "FeedproofFails",
        "Time of single assessments": "FeedproofSlow",
        "Engine and queue": "FeedproofStuck",
        "Memory": "FeedproofMemory",
    }.items():
        assert drawn[panel] == [bounds[alert]]
    # None ready pages; a line of the log or a reading of the key file that was lost is told at once.
    assert drawn["Instances ready"] == drawn["What is amiss"] == [1]


def test_what_the_service_counts_is_shown_or_watched(docker: Path, exposed: str) -> None:
    own = {
        re.sub(r"_(bucket|count|sum)$", "", name) for name in re.findall(r"^(feedproof_[a-z_]+)", exposed, re.MULTILINE)
    }
    used = "\n".join(expression for _, expression in expressions(docker))
    assert {name for name in own if name not in used} == set()


@pytest.mark.parametrize(
    "name", ["compose.yaml", "kubernetes/feedproof.yaml", "Dockerfile", "prometheus/alerts.yaml", "README.md"]
)
def test_every_setting_that_is_named_exists(docker: Path, name: str) -> None:
    named = {setting.lower() for setting in SETTING.findall((docker / name).read_text())}
    assert named <= set(Settings.__struct_fields__) | {"config"}


def test_the_rules_are_valid_and_alert_when_they_should(docker: Path) -> None:
    promtool = tool("promtool")
    for arguments in (
        ("check", "config", "prometheus.yaml"),
        ("check", "rules", "alerts.yaml"),
        ("test", "rules", "alerts_test.yaml"),
    ):
        *what, file = arguments
        done = check(promtool, *what, str(docker / "prometheus" / file))
        assert done.returncode == 0, done.stdout + done.stderr


def test_the_metrics_are_well_formed(exposed: str) -> None:
    done = check(tool("promtool"), "check", "metrics", given=exposed)
    assert done.returncode == 0, done.stdout + done.stderr
    ours = [line for line in (done.stdout + done.stderr).splitlines() if "feedproof_" in line]
    assert ours == []


def test_every_alert_says_what_to_do(docker: Path) -> None:
    text = (docker / "prometheus/alerts.yaml").read_text()
    alerts = re.split(r"- alert: ", text)[1:]
    assert len(alerts) > 10
    for alert in alerts:
        assert re.search(r"severity: (page|ticket)\b", alert), alert
        assert "summary: " in alert
        assert "action: " in alert


def test_the_dockerfile_passes_its_linter(docker: Path) -> None:
    done = check(tool("hadolint"), str(docker / "Dockerfile"))
    assert done.returncode == 0, done.stdout


def test_the_shell_scripts_pass_theirs(docker: Path, root: Path) -> None:
    done = check(tool("shellcheck"), str(docker / "start"), str(root / "tests" / "operations" / "image.sh"))
    assert done.returncode == 0, done.stdout


def test_the_manifest_is_what_kubernetes_takes(docker: Path) -> None:
    done = check(tool("kubernetes-validate"), "--strict", str(docker / "kubernetes" / "feedproof.yaml"))
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_composition_is_what_compose_takes(docker: Path) -> None:
    done = check(tool("check-jsonschema"), "--builtin-schema", "vendor.compose-spec", str(docker / "compose.yaml"))
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("file", "spoil", "name", "arguments"),
    [
        ("Dockerfile", ("WORKDIR /src", "RUN apt-get install curl"), "hadolint", ()),
        ("kubernetes/feedproof.yaml", ("minAvailable: 1", "minAvailabel: 1"), "kubernetes-validate", ("--strict",)),
        (
            "compose.yaml",
            ("read_only: true", "readonly: true"),
            "check-jsonschema",
            ("--builtin-schema", "vendor.compose-spec"),
        ),
    ],
)
def test_each_linter_bites(
    docker: Path, tmp_path: Path, file: str, spoil: tuple[str, str], name: str, arguments: tuple[str, ...]
) -> None:
    text = (docker / file).read_text()
    assert spoil[0] in text
    spoilt = tmp_path / Path(file).name
    spoilt.write_text(text.replace(*spoil))
    assert check(tool(name), *arguments, str(spoilt)).returncode != 0


def manifests(docker: Path) -> list[str]:
    return (docker / "kubernetes" / "feedproof.yaml").read_text().split("\n---\n")


def test_times_to_stop_fit_together(docker: Path) -> None:
    deployment: str = next(text for text in manifests(docker) if "\nkind: Deployment" in text)
    grace = int(re.findall(r"terminationGracePeriodSeconds: (\d+)", deployment)[0])
    set_there = {
        name: float(value) for name, value in re.findall(r'FEEDPROOF_(\w+_SECONDS), value: "(\d+)"', deployment)
    }
    # Enough drain for an endpoint to be taken out: two failed readiness probes of two seconds each, and some.
    assert set_there["DRAIN_SECONDS"] > 4.0
    assert set_there["DRAIN_SECONDS"] + set_there["STOP_SECONDS"] + 5.0 < grace


def test_the_lock_that_the_image_is_made_from_has_a_hash_for_everything(root: Path, docker: Path) -> None:
    dockerfile = (docker / "Dockerfile").read_text()
    installs: list[Any] = re.findall(r"\binstall ([^\\&\n]+)", dockerfile)
    assert installs
    assert all("--require-hashes" in install or "--no-deps" in install for install in installs)
    for name in re.findall(r"-r (\S+\.lock)", dockerfile):
        path = next(root / folder / name for folder in (".ci", "service") if (root / folder / name).exists())
        pinned = re.findall(r"^[a-z0-9][^ ]*==", path.read_text(), re.MULTILINE)
        hashed = re.split(r"^(?=[a-z0-9])", path.read_text(), flags=re.MULTILINE)[1:]
        assert len(pinned) == len(hashed)
        assert all("--hash=sha256:" in entry for entry in hashed)
