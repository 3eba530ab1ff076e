"""Garbage is looked for less often, and no less of it is found."""

import subprocess
import sys

SCENE = """
import gc, weakref
from feedproof.gc_tuning import collect_seldom

class Circle:
    pass

lasting = [Circle() for _ in range(1000)]
collect_seldom()
before = gc.get_stats()[0]["collections"]
assert gc.get_freeze_count() > 1000, "what was there is left alone"
seen = []
for _ in range(100_000):
    circle = Circle()
    circle.own = circle
    if len(seen) < 10:
        seen.append(weakref.ref(circle))
del circle
assert sum(one() is not None for one in seen) == 0, "circles made since are found"
assert gc.get_stats()[0]["collections"] < before + 100_000 / 10_000, "and not looked for all the time"
"""


def test_circles_go_and_what_was_loaded_is_left_alone() -> None:
    done = subprocess.run([sys.executable, "-c", SCENE], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
