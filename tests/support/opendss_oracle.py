"""OpenDSS as an outside judge: a center-tapped transformer and a triplex service whose neutral can be opened.

The transformer's mid-point and the house's neutral are nodes of their own, so nothing assumes that the neutral is
grounded at both ends. Loads are constant impedances, which keeps the case linear. Primary voltage is stiff.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import opendssdirect as dss
from numpy.typing import NDArray

FEET_PER_MILE = 5280.0

PERFECT = 1e-6
"""A connection that the case takes as perfect [ohm]."""


@dataclass(frozen=True)
class Transformer:
    """Center-tapped transformer by the interlaced model.

    W. H. Kersting, "Center-Tapped Transformer and 120-/240-V Secondary Models", IEEE Trans. Ind. Appl., 2009,
    doi:10.1109/TIA.2009.2013590: Z0 = 0.5 R + j0.8 X in the primary, Z1 = Z2 = R + j0.4 X in each half. The OpenDSS
    form (Xhl = Xht = 1.2 X, Xlt = 0.8 X) is that of the examples in github.com/dss-extensions/electricdss-tst.
    """

    kva: float = 25.0
    resistance: float = 0.012
    """Per unit."""
    reactance: float = 0.017
    """Per unit."""


@dataclass(frozen=True)
class Feeder:
    """Four wires from the house's panel to a sub-panel whose neutral and ground are apart."""

    loads: Mapping[tuple[str, str], complex]
    """Constant impedance between two of L1, L2, N at the sub-panel [ohm]."""
    wire: complex = 0.03 + 0.01j
    """Series impedance of each conductor [ohm]."""
    neutral_fault: float = PERFECT
    """In series with its neutral [ohm]."""


@dataclass(frozen=True)
class Service:
    """A house on a transformer whose mid-point is grounded. Connections are L1, L2 and N; impedances in ohm."""

    loads: Mapping[tuple[str, str], complex]
    """Constant impedance between two of L1, L2, N."""
    transformer: Transformer = field(default_factory=Transformer)
    triplex: NDArray[np.complex128] | None = None
    """Series impedance of L1, L2, N, shape (3, 3); none: the house stands at the transformer."""
    neutral_fault: float = PERFECT
    """In series with the neutral, at the house."""
    rod: float = 1e9
    """From the house's neutral to earth."""
    feeder: Feeder | None = None


_NODE = {"L1": 1, "L2": 2, "N": 3}


def _matrix(values: NDArray[np.float64]) -> str:
    return "(" + " | ".join(" ".join(f"{x:.15g}" for x in row) for row in values) + ")"


def _commands(case: Service) -> list[str]:
    t = case.transformer
    r, x = 100.0 * t.resistance, 100.0 * t.reactance
    commands = [
        "clear",
        "set DefaultBaseFrequency=60",
        "new circuit.judge basekv=7.2 phases=1 bus1=prim.1.0 pu=1 angle=0 model=ideal puZideal=[1e-9, 1e-9]",
        "new transformer.t phases=1 windings=3 buses=(prim.1.0 pole.1.3 pole.3.2) conns=(wye wye wye)",
        f"~ kvs=(7.2 0.12 0.12) kvas=({t.kva} {t.kva} {t.kva}) %rs=({0.5 * r} {r} {r})",
        f"~ xhl={1.2 * x} xht={1.2 * x} xlt={0.8 * x} %noloadloss=0 %imag=0 ppm_antifloat=0",
        f"new reactor.midpoint phases=1 bus1=pole.3 bus2=pole.0 r={PERFECT} x=0",
    ]
    last = "pole"
    if case.triplex is not None:
        # Coupled reactors rather than a line: the matrices go in as they are, without length or shunt capacitance.
        commands.append(
            f"new reactor.triplex phases=3 bus1=pole.1.2.3 bus2=drop.1.2.3 "
            f"rmatrix={_matrix(case.triplex.real)} xmatrix={_matrix(case.triplex.imag)}"
        )
        last = "drop"
    commands += [
        f"new reactor.leg1 phases=1 bus1={last}.1 bus2=house.1 r={PERFECT} x=0",
        f"new reactor.leg2 phases=1 bus1={last}.2 bus2=house.2 r={PERFECT} x=0",
        f"new reactor.neutral phases=1 bus1={last}.3 bus2=house.3 r={case.neutral_fault} x=0",
        f"new reactor.rod phases=1 bus1=house.3 bus2=house.0 r={case.rod} x=0",
    ]
    for position, ((a, b), z) in enumerate(case.loads.items()):
        commands.append(
            f"new reactor.load{position} phases=1 bus1=house.{_NODE[a]} bus2=house.{_NODE[b]} r={z.real} x={z.imag}"
        )
    if case.feeder is not None:
        wire = case.feeder.wire
        for node, more in ((1, 0.0), (2, 0.0), (3, case.feeder.neutral_fault)):
            commands.append(
                f"new reactor.feeder{node} phases=1 bus1=house.{node} bus2=sub.{node} "
                f"r={wire.real + more} x={wire.imag}"
            )
        for position, ((a, b), z) in enumerate(case.feeder.loads.items()):
            commands.append(
                f"new reactor.sub{position} phases=1 bus1=sub.{_NODE[a]} bus2=sub.{_NODE[b]} r={z.real} x={z.imag}"
            )
    return [*commands, "set voltagebases=[7.2 0.12]", "set tolerance=1e-12", "set maxiterations=200", "solve"]


def solve(case: Service, bus: str = "house") -> dict[str, complex]:
    """Voltages of L1, L2 and N of the house's panel, or of the sub-panel, against earth as OpenDSS finds them [V].

    Parameters
    ----------
    case : Service
        The circuit.
    bus : str
        `house` or `sub`.

    Raises
    ------
    RuntimeError
        If OpenDSS does not converge.
    """
    for command in _commands(case):
        dss.Text.Command(command)
    if not dss.Solution.Converged():
        raise RuntimeError("OpenDSS did not converge")
    dss.Circuit.SetActiveBus(bus)
    parts: Sequence[float] = dss.Bus.Voltages()
    volts = dict(
        zip(dss.Bus.Nodes(), (complex(*pair) for pair in zip(parts[::2], parts[1::2], strict=True)), strict=True)
    )
    return {name: volts[node] for name, node in _NODE.items()}
