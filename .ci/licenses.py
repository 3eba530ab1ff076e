"""List the packages that the service is made of, with their licenses: writes `docker/licenses.md`.

Run it after every change of the lock: `python3 tests/run.py --with python .ci/licenses.py`; with `--check` it compares
only. The licenses are those that the installed packages state themselves.
"""

import re
import sys
from email.message import Message
from importlib.metadata import metadata
from pathlib import Path
from typing import cast

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "service" / "requirements.lock"
TARGET = ROOT / "docker" / "licenses.md"

HEAD = """# Packages and licenses

Written by `.ci/licenses.py` from `service/requirements.lock`; not to be edited. What the service stands on at run time,
each under the license that it states itself.

| package | version | license |
| --- | --- | --- |
"""

# Names of SPDX for what older metadata says in words (spdx.org/licenses).
SPDX = {
    "Apache Software License": "Apache-2.0",
    "BSD": "BSD-3-Clause",
    "BSD License": "BSD-3-Clause",
    "BSD-3": "BSD-3-Clause",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}


def locked() -> list[tuple[str, str, bool]]:
    """Name, version and whether it is for Windows only, of every entry of the lock."""
    entries = re.findall(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)(.*)$", LOCK.read_text(encoding="utf-8"), re.MULTILINE)
    return [(name, version, "sys_platform == 'win32'" in marker) for name, version, marker in sorted(entries)]


def license_of(package: Message) -> str:
    """License that a package states: as an expression, by classifier, or in a short text."""
    stated = package.get("License-Expression")
    if stated:
        return str(stated)
    classified = [
        line.rsplit(" :: ", 1)[1] for line in package.get_all("Classifier") or [] if line.startswith("License :: OSI")
    ]
    text = str(package.get("License") or "").strip()
    said = classified or ([text.splitlines()[0]] if text else [])
    return " OR ".join(SPDX.get(name, name) for name in said) or "not stated"


def table() -> str:
    """Whole file."""
    rows = []
    for name, version, elsewhere in locked():
        if elsewhere:
            rows.append(f"| {name} | {version} | on Windows only |")
            continue
        # A message, whatever the type says (packaging.python.org, core metadata).
        found = cast("Message", metadata(name))
        if found["Version"] != version:
            sys.exit(f"{name} {found['Version']} is installed, {version} is locked")
        rows.append(f"| {name} | {version} | {license_of(found)} |")
    return HEAD + "\n".join(rows) + "\n"


def main() -> int:
    """Write, or compare."""
    text = table()
    if "--check" in sys.argv[1:]:
        return 0 if TARGET.is_file() and TARGET.read_text(encoding="utf-8") == text else 1
    TARGET.write_text(text, encoding="utf-8")
    print(f"wrote {TARGET.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
