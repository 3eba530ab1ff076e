"""The circuit of one place on one arrangement of readings: its unknowns, constants and variable elements."""

import math
from collections.abc import Sequence

from feedproof.faults.places import Break, Site
from feedproof.faults.priors import PRIORS
from feedproof.faults.severities import working
from feedproof.inference.scene import Scene, SceneReading
from feedproof.readings import CONDUCTORS, Conductor

POINT = {"service_panel": "P", "sub_panel": "Q", "panel": "Q", "receptacle": "R", "appliance_terminals": "T"}

Node = tuple[str, str]
"""(point, conductor): S source, P service panel, Q sub-panel, R receptacle, T terminals."""
X0: Node = ("S", "N")
S1: Node = ("S", "L1")
S2: Node = ("S", "L2")
METALWORK: Node = ("P", "metalwork")


class Draft:
    """Collects unknowns, constants and elements."""

    def __init__(self, site: Site, scene: Scene, readings: Sequence[SceneReading]) -> None:
        self.site, self.scene, self.p, self.readings = site, scene, PRIORS, readings
        self.keys: dict[str, int] = {}
        copies = 2 if site.intermittent else 1
        self.circuits = sorted({(r.state, r.kind != "resistance", k) for r in readings for k in range(copies)})
        self.live = sorted({s for s, on, _ in self.circuits if on})
        self.constants: list[dict[tuple[Node, Node], complex]] = [{} for _ in self.circuits]
        self.elements: list[tuple[Node, Node, int, complex, float, list[tuple[int, complex]], bool]] = []
        self.bends: dict[int, float] = {}
        """How much further an unknown goes where the load may not be connected [1]."""
        own: dict[str, str] = {c: c for c in CONDUCTORS}
        exchanged = own | dict(site.landing)
        self.landing = {"R": own if site.landing_in == "cord" else exchanged, "T": exchanged}
        self.omega = 2.0 * math.pi * scene.supply.frequency
        everything = range(len(self.circuits))
        self.all = (1 << len(self.circuits)) - 1
        self.on = sum(1 << c for c in everything if self.circuits[c][1])
        self.connected = sum(1 << c for c in everything if scene.states[self.circuits[c][0]].kind != "disconnected")
        self.second = sum(1 << c for c in everything if self.circuits[c][2] == 1)
        self.series: dict[Conductor, list[tuple[str, int, float, int]]] = {"L1": [], "L2": [], "N": [], "G": []}
        self.has_feeder = scene.supply.fed_from != "service_panel"
        self.position = -1

    def unknown(self, key: str) -> int:
        """Number of an unknown, new or known [1]."""
        return self.keys.setdefault(key, len(self.keys))

    def severe(self, a: Node, b: Node, mask: int, k: int, least: float = 0.0) -> None:
        """Put an extra resistance of some severity between two nodes of the circuits in a mask.

        Parameters
        ----------
        a, b : Node
            Between which.
        mask : int
            Circuits that have it, one bit each [1].
        k : int
            Which severity [1].
        least : float
            Sound resistance in series [ohm].
        """
        middle, scale = working(self.site.spans[k])
        self.element(a, b, mask, complex(-middle), (-1 - k, -scale), least=least)

    def wire(self, a: Node, b: Node, admittance: complex, mask: int) -> None:
        """Put a constant admittance [S] between two nodes of the circuits in a mask.

        Parameters
        ----------
        a, b : Node
            Between which.
        admittance : complex
            [S].
        mask : int
            Circuits that have it, one bit each [1].
        """
        pair = (a, b) if a <= b else (b, a)
        for c in range(len(self.circuits)):
            if mask >> c & 1:
                self.constants[c][pair] = self.constants[c].get(pair, 0j) + admittance

    def element(
        self,
        a: Node,
        b: Node,
        mask: int,
        log: complex,
        *terms: tuple[int, complex],
        least: float = 0.0,
        scaled: bool = False,
    ) -> None:
        """Put a variable admittance between two nodes of the circuits in a mask.

        Parameters
        ----------
        a, b : Node
            Between which.
        mask : int
            Circuits that have it, one bit each [1].
        log : complex
            Logarithm of the admittance at the medians [ln S].
        *terms : (int, complex)
            Unknown, and what it adds to the logarithm [1].
        least : float
            Sound resistance in series [ohm].
        scaled : bool
            Whether it goes with the length that floats.
        """
        if mask:
            self.elements.append((a, b, mask, log, least, list(terms), scaled))

    def of_state(self, state: int) -> int:
        """Mask of the circuits of one load state [1]."""
        return sum(1 << c for c, (s, _, _) in enumerate(self.circuits) if s == state)

    def stretch(
        self,
        section: str,
        conductor: Conductor,
        a: Node,
        b: Node,
        ohm: float,
        mask: int,
        broken: Break | None,
        law: tuple[float, float, float] | None = None,
    ) -> None:
        """One conductor of one section: sound, or with an extra resistance in series.

        Parameters
        ----------
        section : str
            Which.
        conductor : str
            Which.
        a, b : Node
            Upstream and downstream end.
        ohm : float
            Sound resistance, usually [ohm].
        mask : int
            Circuits that have it, one bit each [1].
        broken : Break
            What is wrong with it; None: nothing.
        law : (float, float, float)
            Where the sound resistance is an unknown: median [ohm] and spread of the logarithm [1] of a log-normal
            one, and the most that there is, in parallel to it [ohm].
        """
        if broken is not None and broken.severity >= 0:
            where = mask & self.second if self.site.intermittent else mask
            self.severe(a, b, where, broken.severity, ohm)
            if self.site.intermittent:
                self.wire(a, b, 1.0 / ohm, mask & ~self.second)
            self.series[conductor].append((section, -1, ohm, broken.severity))
        elif broken is not None:
            self.wire(a, b, 1.0 / (ohm + broken.resistance), mask)
            self.series[conductor].append((section, -1, ohm + broken.resistance, -1))
        elif law is not None:
            u = self.unknown(f"{section} {conductor}")
            median, spread, most = law
            self.wire(a, b, 1.0 / most, mask)
            self.element(a, b, mask, complex(-math.log(median)), (u, -spread))
            self.series[conductor].append((section, u, ohm, -1))
        else:
            self.wire(a, b, 1.0 / ohm, mask)
            self.series[conductor].append((section, -1, ohm, -1))

    def load(
        self, first: str, second: str, mask: int, log: complex, *terms: tuple[int, complex], least: float = 0.0
    ) -> None:
        """Put a variable load between two contacts of the appliance.

        Parameters
        ----------
        first, second : str
            Conductors.
        mask : int
            Circuits that have it, one bit each [1].
        log : complex
            Logarithm of the admittance at the medians [ln S].
        *terms : (int, complex)
            Unknown, and what it adds to the logarithm [1].
        least : float
            Resistance in series [ohm].
        """
        ends = self.landing["T"]
        self.element(("T", ends[first]), ("T", ends[second]), mask, log, *terms, least=least)

    def node(self, point: str, conductor: str) -> Node:
        """Where something is read."""
        where = POINT[point]
        if conductor == "metalwork":
            return METALWORK
        return (where, conductor if where in "PQ" else self.landing[where][conductor])
