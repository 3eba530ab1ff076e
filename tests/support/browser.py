"""Pages in Debian's chromium without a window, and the accessibility checker that runs in them."""

import html as markup
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

TOOLS = Path(__file__).resolve().parents[1] / "service" / "note" / "tools"


def _absent(what: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{what}, and under CI it has to be there")
    pytest.skip(f"{what}; under CI this fails instead")


def chromium(folder: Path, *arguments: str) -> str:
    """Run the browser once and give what it writes.

    Parameters
    ----------
    folder : Path
        Where it may keep its profile.
    *arguments : str
        Options, and the address.
    """
    program = shutil.which("chromium")
    if program is None:
        _absent("chromium is not installed (apt-get install chromium)")
    result = subprocess.run(
        [
            str(program),
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            f"--user-data-dir={folder / 'profile'}",
            # Whatever is not on this machine cannot be found, as without internet.
            "--host-resolver-rules=MAP * ~NOTFOUND",
            *arguments,
        ],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert result.returncode == 0, result.stderr[-2000:]
    return result.stdout


def common_serif() -> None:
    """Skip where no font is as wide as the serif that the machines of readers have: sheets cannot be counted there."""
    matcher = shutil.which("fc-match")
    told = (
        subprocess.run([matcher, "Times New Roman"], capture_output=True, text=True, check=False) if matcher else None
    )
    if told is None or not re.search("Times|Liberation Serif", told.stdout):
        _absent("no font of the widths of Times is installed (apt-get install fonts-liberation)")


def axe() -> str:
    """Give the script of the accessibility checker; installs it where npm is there."""
    script = TOOLS / "node_modules" / "axe-core" / "axe.min.js"
    if not script.exists():
        npm = shutil.which("npm")
        if npm is None:
            _absent("npm is not installed (apt-get install nodejs npm)")
        installed = subprocess.run(
            [str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund"],
            cwd=TOOLS,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        if installed.returncode:
            _absent(f"npm could not install the checker: {installed.stderr[-500:]}")
    return script.read_text(encoding="utf-8")


def frame(page: str, width: int, name: str, script: str) -> str:
    """Give a frame of a width that holds a page and runs a script in it.

    The page's own policy forbids scripts, and a test must look into it: only here the policy is taken out.
    """
    opened = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    assert opened != page
    holding = opened.replace("</body>", f"<script>{script}</script></body>")
    return (
        f'<iframe name="{name}" title="{name}" width="{width}" height="900" srcdoc="{markup.escape(holding)}"></iframe>'
    )
