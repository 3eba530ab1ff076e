"""Make the client that waits of the client for asyncio: `python sdk/twin.py`, after a change of the latter."""

import re
import subprocess
import sys
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent / "src" / "feedproof_sdk"
SOURCE, TARGET = PACKAGE / "_async_client.py", PACKAGE / "_client.py"
HEAD = '"""The client that waits. Made of `_async_client.py` by `python sdk/twin.py`: edit there."""\n'
WORDS = {
    r"\basync (def|for|with)\b": r"\1",
    r"\basynccontextmanager\b": "contextmanager",
    r"\banext\b": "next",
    r"\bawait ": "",
    r"\bAsync(Client|Http)\b": r"\1",
    r"_async_work": "_work",
    r"httpx\.AsyncClient": "httpx.Client",
    r"\bAsync(Generator|Iterator)\b": r"\1",
    r"\b__a(enter|exit)__\b": r"__\1__",
    r"\baclose\b": "close",
    r"\baiter_bytes\b": "iter_bytes",
    r"AsyncIterable, ": "",
    r" \| AsyncIterable\[\w+\]": "",
    r"Generator\[([^\n]+), None\]": r"Generator[\1, None, None]",
    r", and in another event loop\.": ".",
    r"share it: it": "share it between threads: it",
}


def twin() -> str:
    """Text of the client that waits."""
    text = SOURCE.read_text(encoding="utf-8").partition("\n")[2]
    for pattern, put in WORDS.items():
        text = re.sub(pattern, put, text)
    return HEAD + text


def made() -> str:
    """The same, imports sorted and formatted as in all of this project."""
    text = twin()
    for command in (["check", "--select", "I", "--fix-only", "--quiet"], ["format"]):
        ruff = [sys.executable, "-m", "ruff", *command, "--stdin-filename", str(TARGET), "-"]
        text = subprocess.run(ruff, input=text, capture_output=True, text=True, check=True).stdout
    return text


if __name__ == "__main__":
    TARGET.write_text(made(), encoding="utf-8")
