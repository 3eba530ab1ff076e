"""Runs of ngspice for very many small circuits: a deck is one circuit with one meter, a process takes many decks.

Results are printed by ngspice's own control language, one line for each quantity asked, so no file of results is read.
Nothing is kept from one run to the next.
"""

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest

_DECKS_PER_PROCESS = 150
_SECONDS = 300.0
_OPTIONS = ".options noopac pivrel=0.5 pivtol=1e-30"
"""No operating point (a node fed by capacitors alone has none); pivots chosen for accuracy rather than sparsity."""
_MARK = "deck-"
_NUMBER = re.compile(r"= *([-+0-9.eE]+),([-+0-9.eE]+)")


@dataclass
class Deck:
    """One circuit: elements, the frequency it is solved at, and what is wanted of it."""

    wanted: str = ""
    """An expression of ngspice, such as "v(a)-v(b)" or "i(vmeter)"."""
    frequency: float = 60.0
    """[Hz]"""
    lines: list[str] = field(default_factory=list)

    def resistor(self, a: str, b: str, ohms: float) -> None:
        """Resistance [ohm]."""
        self.lines.append(f"R{len(self.lines)} {a} {b} {ohms:.9g}")

    def capacitor(self, a: str, b: str, farads: float) -> None:
        """Capacitance [F]; none where it is 0."""
        if farads > 0.0:
            self.lines.append(f"C{len(self.lines)} {a} {b} {farads:.9g}")

    def impedance(self, a: str, b: str, ohms: complex) -> None:
        """Series impedance, given at 60 Hz [ohm]."""
        if ohms.imag == 0.0:
            self.resistor(a, b, ohms.real)
            return
        inner = f"z{len(self.lines)}"
        self.resistor(a, inner, ohms.real)
        if ohms.imag > 0.0:
            self.lines.append(f"L{len(self.lines)} {inner} {b} {ohms.imag / 376.99111843:.9g}")
        else:
            self.lines.append(f"C{len(self.lines)} {inner} {b} {-1.0 / (376.99111843 * ohms.imag):.9g}")

    def source(self, name: str, a: str, b: str, volts: float, degrees: float = 0.0) -> None:
        """Voltage of `a` over `b`, a phasor; with 0 V an ammeter called "v" + `name` [V]."""
        self.lines.append(f"V{name} {a} {b} DC 0 AC {volts:.9g} {degrees:.6g}")


def program() -> str:
    """Path of ngspice; skips the test where it is absent, but never under CI."""
    found = shutil.which("ngspice")
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail("ngspice is not installed, and under CI it has to be: apt-get install ngspice")
    pytest.skip("ngspice is not installed (apt-get install ngspice); under CI this fails instead")


def solve(decks: Sequence[Deck], processes: int = 2) -> list[complex]:
    """What is wanted of each deck.

    Parameters
    ----------
    decks : sequence of Deck
        The circuits.
    processes : int
        How many ngspice processes may run side by side.

    Returns
    -------
    list of complex
        Phasors in the order of the decks.

    Raises
    ------
    RuntimeError
        If ngspice leaves a deck without result.
    """
    path = program()
    parts = [decks[k : k + _DECKS_PER_PROCESS] for k in range(0, len(decks), _DECKS_PER_PROCESS)]
    with ThreadPoolExecutor(max_workers=processes) as pool:
        return [value for part in pool.map(lambda part: _solve_in_one_process(path, part), parts) for value in part]


def _solve_in_one_process(path: str, decks: Sequence[Deck]) -> list[complex]:
    with tempfile.TemporaryDirectory() as folder:
        control = ["many circuits", ".control", "set numdgt=12"]
        for number, deck in enumerate(decks):
            body = "\n".join(deck.lines)
            name = Path(folder, f"{number}.cir")
            name.write_text(f"circuit\n{body}\n{_OPTIONS}\n.end\n", encoding="ascii")
            control += [
                f"source {name}",
                f"ac lin 1 {deck.frequency!r} {deck.frequency!r}",
                f"echo {_MARK}{number}",
                f"print {deck.wanted}",
                "destroy all",
                "remcirc",
            ]
        main = Path(folder, "main.cir")
        main.write_text("\n".join([*control, "quit", ".endc", ".end", ""]), encoding="ascii")
        done = subprocess.run(
            [path, "-b", str(main)], capture_output=True, text=True, timeout=_SECONDS, check=False, cwd=folder
        )
    found: list[complex] = []
    for number, part in enumerate(done.stdout.split(_MARK)[1:]):
        match = _NUMBER.search(part)
        if match is None or not part.startswith(f"{number}\n"):
            raise RuntimeError(f"ngspice gave no result:\n{part[:500]}\n{done.stderr[-1000:]}")
        found.append(complex(float(match[1]), float(match[2])))
    if len(found) != len(decks):
        raise RuntimeError(f"ngspice solved {len(found)} of {len(decks)}:\n{done.stdout[-500:]}{done.stderr[-1000:]}")
    return found
