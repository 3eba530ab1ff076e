"""The service without the packages that the image leaves out."""

import json
import re
import sys
from pathlib import Path

import pytest

from support.operated_service import running

# Whatever one of these packages would be imported for has to do without it.
WITHOUT = """
import sys
from importlib.metadata import packages_distributions

left_out = set(sys.argv.pop(1).split(","))
names = {name for name, homes in packages_distributions().items() if {home.lower() for home in homes} <= left_out}

class Absent:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in names:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Absent())
from feedproof.cli import main
sys.exit(main(sys.argv[1:]))
"""
FORMS = ("application/json", "text/html", "text/plain", "text/markdown", "image/svg+xml", "application/pdf")


def left_out(root: Path) -> list[str]:
    return re.findall(r"^([a-z-]+)$", (root / "docker" / "unused.txt").read_text(), re.MULTILINE)


def test_everything_is_answered(root: Path, tmp_path: Path) -> None:
    visit = (root / "examples" / "requests" / "low_impedance.json").read_bytes()
    script = tmp_path / "without.py"
    script.write_text(WITHOUT)
    command = (sys.executable, str(script), ",".join(left_out(root)), "serve", "--port", "0")
    with running(tmp_path, command=command) as service:
        for form in FORMS:
            status, headers, _ = service.post(visit, headers={"Accept": form})
            assert (status, headers["content-type"].split(";")[0]) == (200, form)
        assert service.post(visit, "/v1/assessments/screen")[0] == 200
        line = json.dumps(json.loads(visit)).encode() + b"\n"
        assert service.post(line, "/v1/assessments/batch", "application/x-ndjson")[0] == 200
        assert service.post(b'{"fault": "none_found", "readings": []}', "/v1/simulations")[0] == 200
        for path in ("/docs", "/openapi.json", "/v1/faults", "/v1/units", "/metrics", "/health/ready"):
            assert service.get(path)[0] == 200, path
        assert service.get("/nowhere")[0] == 404
        assert [line for line in service.lines() if line["level"] != "info"] == []


@pytest.mark.parametrize("name", ["litestar", "uvicorn"])
def test_what_is_used_cannot_be_left_out(root: Path, tmp_path: Path, name: str) -> None:
    assert name not in left_out(root)
    script = tmp_path / "without.py"
    script.write_text(WITHOUT)
    command = (sys.executable, str(script), name, "serve", "--port", "0")
    with pytest.raises(AssertionError, match=f"No module named '{name}"), running(tmp_path, command=command):
        pass
