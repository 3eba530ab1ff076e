"""What must not stand in any file: paths of one machine, and addresses of package indexes."""

import re
import subprocess
from pathlib import Path

import pytest

# Written in pieces, so that this file may hold them.
FORBIDDEN = {
    "home of one person": r"(?<![\w.])/(?:root|ho" + r"me/\w+|Users/\w+)/",
    "folder of one machine": r"(?<![\w.])/(?:wo" + r"rk|opt|mnt)/\w",
    "package index": r"py" + r"pi\.org|pythonho" + r"sted\.org|registry\.np" + r"mjs\.org|anaco" + r"nda\.org",
    "index option": r"--(?:extra-)?index" + r"-url[ =]|--find" + r"-links[ =]",
}


def tracked(root: Path) -> list[Path]:
    """Files of the project as a clone would have them."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],  # noqa: S607
        cwd=root,
        capture_output=True,
        check=False,
        timeout=60,
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    return [root / name for name in listed.stdout.decode().split("\0") if name and (root / name).is_file()]


@pytest.mark.parametrize("kind", FORBIDDEN)
def test_no_file_holds(root: Path, kind: str) -> None:
    pattern = re.compile(FORBIDDEN[kind])
    files = tracked(root)
    assert len(files) > 20
    found = []
    for path in files:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{path.relative_to(root)}: {match.group()}" for match in pattern.finditer(text)]
    assert found == []


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("home of one person", "open('/" + "root/x')"),
        ("home of one person", "/ho" + "me/someone/x"),
        ("folder of one machine", "cd /wo" + "rk/main"),
        ("package index", "https://py" + "pi.org/simple"),
        ("index option", "--index" + "-url https://x"),
    ],
)
def test_each_kind_is_seen(kind: str, text: str) -> None:
    assert re.search(FORBIDDEN[kind], text)
