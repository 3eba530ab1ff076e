"""ngspice as an outside judge of the circuit solver: takes a `Network`, returns what ngspice finds.

Every probe gets a copy of the circuit of its own, so no two meters ever load the same circuit. All copies stand in one
netlist and are solved by one AC analysis at one frequency.

Small resistances are written in impedance form (a current-controlled voltage source that senses its own current), since
ngspice stamps a resistor as a conductance and would lose a gigaohm beside a milliohm to rounding.
"""

import math
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from support.network import Branch, Network, Node

_IMPEDANCE_FORM_BELOW = 1e3  # ohm
_SECONDS = 60.0
_OPTIONS = ".options noopac pivrel=0.5 pivtol=1e-30"
"""No operating point (a capacitor-fed node has none); pivots chosen for accuracy rather than sparsity."""


class VoltmeterProbe(NamedTuple):
    """A voltmeter across a pair of nodes."""

    pair: tuple[Node, Node]
    impedance: complex
    """Input impedance; infinite for an ideal meter [ohm]."""


def require_ngspice() -> str:
    """Path of the ngspice program; skips the test where it is absent, but never under CI."""
    found = shutil.which("ngspice")
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail("ngspice is not installed, and under CI it has to be: apt-get install ngspice")
    pytest.skip("ngspice is not installed (apt-get install ngspice); under CI this fails instead")


def run(netlist: str, analysis: str) -> dict[str, complex]:
    """Run one netlist in batch mode and read the single point that the analysis yields.

    Parameters
    ----------
    netlist : str
        Title line and elements, without control block and without `.end`.
    analysis : str
        A control command, such as "ac lin 1 60 60".

    Returns
    -------
    dict of str to complex
        Every vector by its name, node voltages as "v(name)", branch currents as "i(name)".

    Raises
    ------
    RuntimeError
        If ngspice leaves no result.
    """
    program = require_ngspice()
    with tempfile.TemporaryDirectory() as folder:
        deck, raw = Path(folder, "deck.cir"), Path(folder, "out.raw")
        control = f".control\nset filetype=ascii\n{analysis}\nwrite {raw} all\nquit\n.endc\n.end\n"
        deck.write_text(f"{netlist}\n{_OPTIONS}\n{control}", encoding="ascii")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=_SECONDS, check=False)
        if not raw.exists():
            raise RuntimeError(f"ngspice gave no result:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        return _read_raw(raw.read_text(encoding="ascii"))


def _read_raw(text: str) -> dict[str, complex]:
    header, _, values = text.partition("Values:\n")
    names = [line.split("\t")[2] for line in header.partition("Variables:\n")[2].splitlines() if line.strip()]
    fields = values.split()[1:]  # the first is the point's number
    numbers = [complex(*(float(part) for part in field.split(","))) for field in fields]
    return dict(zip(names, numbers, strict=True))


def resistor_lines(name: str, start: str, end: str, resistance: float) -> list[str]:
    """Netlist lines of a resistance, in impedance form where it is small."""
    if abs(resistance) >= _IMPEDANCE_FORM_BELOW:
        return [f"R{name} {start} {end} {resistance!r}"]
    inner = f"m{name}"
    return [f"H{name} {start} {inner} Vs{name} {resistance!r}", f"Vs{name} {inner} {end} DC 0 AC 0"]


def _branch_lines(name: str, start: str, end: str, branch: Branch, frequency: float) -> list[str]:
    y, omega = branch.admittance, 2.0 * math.pi * frequency
    if y == 0.0:
        return []
    if y.imag < 0.0 <= y.real:  # an inductive load: series form, as it is built
        z = 1.0 / y
        inner = f"l{name}"
        series = [f"L{name} {inner} {end} {z.imag / omega!r}"]
        if z.real == 0.0:
            return [f"L{name} {start} {end} {z.imag / omega!r}"]
        return [*resistor_lines(name, start, inner, z.real), *series]
    lines = resistor_lines(name, start, end, 1.0 / y.real) if y.real != 0.0 else []
    if y.imag > 0.0:
        lines.append(f"C{name} {start} {end} {y.imag / omega!r}")
    elif y.imag < 0.0:
        lines.append(f"L{name} {start} {end} {-1.0 / (omega * y.imag)!r}")
    return lines


class _Deck:
    """Netlist of several independent copies of a network."""

    def __init__(self, network: Network, frequency: float) -> None:
        self.network = network
        self.frequency = frequency
        self.names: dict[Node, int] = {}
        self.lines = ["oracle"]

    def node(self, copy: int, node: Node) -> str:
        return f"c{copy}n{self.names.setdefault(node, len(self.names))}"

    def copy(self, copy: int, *, dead: bool = False, isolated: bool = False) -> None:
        for position, source in enumerate(self.network.fixed):
            if not isolated:
                phasor = 0j if dead else source.voltage
                self.lines.append(f"V{copy}f{position} {self.node(copy, source.node)} 0 DC 0 {ac_phasor(phasor)}")
        for position, branch in enumerate(self.network.branches):
            name, (start, end) = f"{copy}b{position}", (self.node(copy, branch.start), self.node(copy, branch.end))
            self.lines += _branch_lines(name, start, end, branch, self.frequency)

    def solve(self) -> dict[str, complex]:
        return run("\n".join(self.lines), f"ac lin 1 {self.frequency!r} {self.frequency!r}")


def ac_phasor(voltage: complex) -> str:
    """A source's AC clause: magnitude and phase in degrees."""
    return f"AC {abs(voltage)!r} {math.degrees(math.atan2(voltage.imag, voltage.real))!r}"


def voltmeter_readings(network: Network, probes: Sequence[VoltmeterProbe], frequency: float = 60.0) -> list[float]:
    """Reading of each voltmeter, connected alone.

    Parameters
    ----------
    network : Network
        The network without any meter.
    probes : sequence of VoltmeterProbe
        The meters.
    frequency : float
        [Hz]

    Returns
    -------
    list of float
        Magnitudes [V].
    """
    deck = _Deck(network, frequency)
    for copy, probe in enumerate(probes):
        deck.copy(copy)
        if math.isfinite(abs(probe.impedance)):
            a, b = (deck.node(copy, node) for node in probe.pair)
            meter = Branch(*probe.pair, 1.0 / probe.impedance)
            deck.lines += _branch_lines(f"{copy}meter", a, b, meter, frequency)
    found = deck.solve()
    return [
        abs(found[f"v({deck.node(copy, probe.pair[0])})"] - found[f"v({deck.node(copy, probe.pair[1])})"])
        for copy, probe in enumerate(probes)
    ]


def driving_point_impedances(
    network: Network, pairs: Iterable[tuple[Node, Node]], frequency: float = 60.0, *, isolated: bool = True
) -> list[complex]:
    """Voltage that one ampere makes across each pair of the dead network; `isolated`: fixed nodes let go [ohm]."""
    deck, wanted = _Deck(network, frequency), list(pairs)
    for copy, (a, b) in enumerate(wanted):
        deck.copy(copy, dead=True, isolated=isolated)
        if isolated:  # the reference of an isolated network: its second probe
            deck.lines.append(f"V{copy}ref {deck.node(copy, b)} 0 DC 0 AC 0")
        deck.lines.append(f"I{copy}drive {deck.node(copy, b)} {deck.node(copy, a)} DC 0 AC 1")
    found = deck.solve()
    return [found[f"v({deck.node(copy, a)})"] - found[f"v({deck.node(copy, b)})"] for copy, (a, b) in enumerate(wanted)]


def branch_current(network: Network, position: int, frequency: float = 60.0) -> float:
    """Magnitude of the current through one branch, by an ideal ammeter in series with it [A]."""
    branch = network.branches[position]
    inserted: Node = ("ammeter", "ammeter")
    others = network.branches[:position] + network.branches[position + 1 :]
    moved = Branch(inserted, branch.end, branch.admittance)
    deck = _Deck(Network(branches=(*others, moved), fixed=network.fixed), frequency)
    deck.copy(0)
    deck.lines.append(f"Vammeter {deck.node(0, branch.start)} {deck.node(0, inserted)} DC 0 AC 0")
    return abs(deck.solve()["i(vammeter)"])
