"""Warm means warm for every kind of visit, and two cold processes compile once."""

import subprocess
import sys
import threading
import time
from pathlib import Path

from feedproof.warm_up import alone

# In a process of its own: here other tests have compiled already.
COMPILED_LATER = """
import sys
from pathlib import Path
from feedproof.assess import assess
from feedproof.parsing import read_request
from feedproof.warm_up import self_test

def signatures():
    return {
        f"{name}.{key}": len(value.signatures)
        for name, module in list(sys.modules.items()) if name.startswith("feedproof")
        for key, value in vars(module).items() if type(value).__name__ == "CPUDispatcher"
    }

self_test()
before = signatures()
assert any(before.values())
for path in Path(sys.argv[1]).glob("*.json"):
    assess(*read_request(path.read_bytes()))
after = signatures()
print(sorted(name for name in after if after[name] != before.get(name, 0)))
"""

HOLDER = """
import sys, time
from feedproof.warm_up import alone

with alone(sys.argv[1]):
    print("held", flush=True)
    time.sleep(60)
"""


def test_no_example_needs_anything_compiled_after_the_self_test(root: Path) -> None:
    command = [sys.executable, "-c", COMPILED_LATER, str(root / "examples" / "requests")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=600)
    assert done.stdout.strip() == "[]"


def test_the_second_waits_for_the_first_and_nobody_for_one_that_has_gone(tmp_path: Path) -> None:
    order: list[str] = []
    inside = threading.Event()

    def first() -> None:
        with alone(tmp_path):
            inside.set()
            time.sleep(0.3)
            order.append("first")

    thread = threading.Thread(target=first)
    thread.start()
    inside.wait()
    with alone(tmp_path):
        order.append("second")
    thread.join()
    assert order == ["first", "second"]
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(tmp_path)], stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.readline()
    process.kill()
    process.communicate(timeout=10.0)
    with alone(tmp_path):
        order.append("third")


def test_without_a_folder_nobody_waits() -> None:
    with alone(""), alone(""):
        pass
