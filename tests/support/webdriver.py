"""A real browser, driven over the W3C WebDriver protocol: Debian's chromium and chromium-driver, no library between."""

import base64
import json
import os
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

_ELEMENT = "element-6066-11e4-a52e-4f735466cecf"


def _require(program: str, package: str) -> str:
    found = shutil.which(program)
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail(f"{program} is not installed, and under CI it has to be: apt-get install {package}")
    pytest.skip(f"{program} is not installed (apt-get install {package}); under CI this fails instead")


class Browser:
    """One window."""

    def __init__(self, driver: str, capabilities: dict[str, Any]) -> None:
        self._driver = driver
        session = self._call("POST", "/session", {"capabilities": {"alwaysMatch": capabilities}})
        self._session = f"/session/{session['sessionId']}"

    def _call(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        request = urllib.request.Request(  # noqa: S310
            self._driver + path,
            data=None if body is None else json.dumps(body).encode(),
            headers={"Content-Type": "application/json"},
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise AssertionError(error.read().decode()) from None

    def open(self, url: str) -> None:
        self._call("POST", f"{self._session}/url", {"url": url})

    def resize(self, width: int, height: int) -> None:
        self._call("POST", f"{self._session}/window/rect", {"width": width, "height": height})

    def run(self, script: str, *arguments: Any) -> Any:
        """Give what a script returns."""
        return self._call("POST", f"{self._session}/execute/sync", {"script": script, "args": list(arguments)})

    def _find(self, selector: str) -> str:
        found = self._call("POST", f"{self._session}/element", {"using": "css selector", "value": selector})
        return f"{self._session}/element/{found[_ELEMENT]}"

    def text(self, selector: str) -> str:
        return str(self._call("GET", f"{self._find(selector)}/text"))

    def click(self, selector: str) -> None:
        self._call("POST", f"{self._find(selector)}/click", {})

    def type(self, selector: str, text: str) -> None:
        self._call("POST", f"{self._find(selector)}/value", {"text": text})

    def press(self, keys: str) -> None:
        """Press keys, wherever the focus is; W3C WebDriver, 17.4.2, has the codes of those that are no letters."""
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        keyboard = {"type": "key", "id": "keyboard", "actions": actions}
        self._call("POST", f"{self._session}/actions", {"actions": [keyboard]})

    def tap(self, selector: str) -> None:
        """Touch the middle of an element, brought into view as a thumb would scroll it."""
        element = self._find(selector)
        self.run("arguments[0].scrollIntoView({block: 'center'})", {_ELEMENT: element.rpartition("/")[2]})
        move = {"type": "pointerMove", "duration": 0, "x": 0, "y": 0, "origin": {_ELEMENT: element.rpartition("/")[2]}}
        touch = [move, {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}]
        finger = {"type": "pointer", "id": "finger", "parameters": {"pointerType": "touch"}, "actions": touch}
        self._call("POST", f"{self._session}/actions", {"actions": [finger]})

    def devtools(self, command: str, **parameters: Any) -> Any:
        """Give a command of the browser's own protocol: viewport, color scheme, and what no other has."""
        return self._call("POST", f"{self._session}/goog/cdp/execute", {"cmd": command, "params": parameters})

    def wait(self, script: str, seconds: float = 30.0) -> Any:
        """Wait until a script returns something true."""
        deadline = time.monotonic() + seconds
        while not (value := self.run(script)):
            assert time.monotonic() < deadline, script
            time.sleep(0.05)
        return value

    def complaints(self) -> list[str]:
        """Errors in the browser's console since the last call."""
        entries = self._call("POST", f"{self._session}/se/log", {"type": "browser"})
        return [entry["message"] for entry in entries if entry["level"] == "SEVERE"]

    def picture(self) -> bytes:
        """Give a picture of the window, PNG."""
        return base64.b64decode(self._call("GET", f"{self._session}/screenshot"))

    def close(self) -> None:
        self._call("DELETE", self._session)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def browser(folder: str) -> Iterator[Browser]:
    """Start a browser without a window; it can reach nothing but this machine.

    Parameters
    ----------
    folder : str
        Where it may keep its profile.
    """
    chromium, driver = _require("chromium", "chromium"), _require("chromedriver", "chromium-driver")
    port = _free_port()
    process = subprocess.Popen([driver, f"--port={port}"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait_for(port)
        window = Browser(
            f"http://127.0.0.1:{port}",
            {
                "browserName": "chrome",
                "goog:loggingPrefs": {"browser": "ALL"},
                "goog:chromeOptions": {
                    "binary": chromium,
                    "args": [
                        "--headless=new",
                        "--no-sandbox",
                        "--disable-gpu",
                        "--disable-dev-shm-usage",
                        f"--user-data-dir={folder}",
                        # Whatever is not on this machine cannot be found, as without internet.
                        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
                    ],
                },
            },
        )
        try:
            yield window
        finally:
            window.close()
    finally:
        process.terminate()
        process.wait(timeout=30)


def _wait_for(port: int) -> None:
    deadline = time.monotonic() + 30
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            assert time.monotonic() < deadline
            time.sleep(0.05)
        else:
            return
