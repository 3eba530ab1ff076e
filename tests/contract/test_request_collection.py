"""The collection of requests (Arazzo 1.0.1, OpenAPI Initiative) is valid, and its chains hold on a live service."""

import json
from pathlib import Path

from support.contract_tools import run
from support.live_service import live_service

NAME = "requests.arazzo.json"


def test_it_is_valid(root: Path) -> None:
    done = run("redocly", "lint", str(root / "openapi" / NAME))
    assert done.returncode == 0, done.stdout + done.stderr


def test_it_is_of_this_contract(root: Path) -> None:
    collection, document = (json.loads((root / "openapi" / name).read_bytes()) for name in (NAME, "openapi.json"))
    operations = {about["operationId"] for methods in document["paths"].values() for about in methods.values()}
    used = {step["operationId"] for workflow in collection["workflows"] for step in workflow["steps"]}
    assert used <= operations
    assert used >= {"assess", "assess_for_screen", "render_note", "simulate", "show_model", "list_limits"}


def test_every_chain_holds_on_a_live_service(root: Path, tmp_path: Path) -> None:
    told = tmp_path / "told.json"
    with live_service() as address:
        done = run("redocly", "respect", str(root / "openapi" / NAME), "-S", f"feedproof={address}", "-J", str(told))
    assert done.returncode == 0, done.stdout + done.stderr
    (file,) = json.loads(told.read_bytes())["files"].values()
    chains = json.loads((root / "openapi" / NAME).read_bytes())["workflows"]
    ran = [step for workflow in file["executedWorkflows"] for step in workflow["executedSteps"]]
    assert len(ran) == sum(len(workflow["steps"]) for workflow in chains)
