"""What the service is made of: listed, licensed so that it can be passed on, told in a known format."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

# Licenses under which a package may be part of an Apache-2.0 image (apache.org/legal/resolved.html, categories A
# and, for code that is not changed, B).
ALLOWED = {
    "0BSD",
    "Apache-2.0 WITH LLVM-exception",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-CMU",  # "Python Imaging Library Software License" in category A (from memory)
    "MPL-2.0",
    "PSF-2.0",
    "Zlib",
}


def rows(root: Path) -> dict[str, tuple[str, str]]:
    text = (root / "docker" / "licenses.md").read_text()
    return {
        name: (version, told)
        for name, version, told in re.findall(r"^\| (\S+) \| (\d\S*) \| (.+) \|$", text, re.MULTILINE)
    }


def locked(root: Path) -> dict[str, str]:
    text = (root / "service" / "requirements.lock").read_text()
    return dict(re.findall(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)", text, re.MULTILINE))


def test_every_locked_package_is_listed_in_its_version(root: Path) -> None:
    assert {name: version for name, (version, _) in rows(root).items()} == locked(root)


def test_every_license_lets_the_image_be_passed_on(root: Path) -> None:
    for name, (_, told) in rows(root).items():
        if told == "on Windows only":
            continue
        # One of alternatives is enough; of what holds together, all.
        choices = [re.split(r" AND ", choice.strip("() ")) for choice in told.split(" OR ")]
        assert any(all(part.strip("() ") in ALLOWED for part in choice) for choice in choices), f"{name}: {told}"


def test_the_bill_of_materials_names_every_package_with_its_hash(root: Path, tmp_path: Path) -> None:
    beside = Path(sys.executable).with_name("cyclonedx-py")
    tool = str(beside) if beside.exists() else shutil.which("cyclonedx-py")
    if tool is None:
        pytest.skip("cyclonedx-bom is not installed")
    target = tmp_path / "feedproof.cdx.json"
    command = [
        *(tool, "requirements", str(root / "service" / "requirements.lock")),
        *("--pyproject", str(root / "service" / "pyproject.toml")),
        *("--output-reproducible", "--output-format", "JSON", "--output-file", str(target)),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    bill = json.loads(target.read_text())
    assert bill["bomFormat"] == "CycloneDX"
    assert bill["metadata"]["component"]["name"] == "feedproof"
    told = {part["name"]: part["version"] for part in bill["components"]}
    assert told == locked(root)
    for part in bill["components"]:
        hashes = [found["alg"] for where in part.get("externalReferences", []) for found in where.get("hashes", [])]
        assert "SHA-256" in hashes, part["name"]


def test_there_is_a_way_to_report_what_could_hurt(root: Path) -> None:
    policy = (root / ".github" / "SECURITY.md").read_text()
    assert "in private" in policy
    assert "could hurt somebody" in policy
