"""How often a process that assesses again and again looks for garbage.

An assessment makes thousands of small objects and hardly a circle of them, so what the garbage collector finds is
next to nothing; looking after every seven hundred of them, and now and then through all that was ever loaded, takes up
to a tenth of the processor time.
"""

import gc

#: New objects after which the youngest are looked through, and how many such rounds go to one of the next older ones.
_SELDOM = (20_000, 20, 100)


def collect_seldom() -> None:
    """Leave alone what has been loaded, and look for garbage among the rest less often."""
    gc.freeze()
    gc.set_threshold(*_SELDOM)
