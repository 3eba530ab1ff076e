"""The circuit from the transformer to the panel that the branch hangs on, and what else is on in the building."""

import cmath
import math

from feedproof.inference.draft import S1, S2, X0, Draft, Node
from feedproof.readings import CONDUCTORS, Conductor

_BOND, _ONE = 1e3, 1e5
"""Of a bonding jumper, and of nodes that are one [S]: next to no resistance."""


def service(d: Draft) -> None:
    """Service, its neutral's electrode, and the house's loads where they matter."""
    p = d.p
    breaks = {b.conductor: b for b in d.site.breaks if b.section == "service"}
    sources: dict[Conductor, Node] = {"L1": S1, "L2": S2}
    for leg, source in sources.items():
        d.stretch("service", leg, source, ("P", leg), p.service_leg_resistance, d.on, breaks.get(leg))
    d.stretch("service", "N", X0, ("P", "N"), p.service_neutral_resistance, d.all, breaks.get("N"))
    if d.site.unbonded:
        # Frame and ground conductors are held only by the stray capacitance and leakage of the wiring.
        farads, spread = p.frame_capacitance, p.frame_capacitance_spread
        if d.scene.supply.source == "generator":
            farads, spread = p.generator_capacitance, p.generator_capacitance_spread
        for c in ("L1", "L2", "N"):
            d.element(
                ("P", c),
                ("P", "G"),
                d.on,
                cmath.log(1j * d.omega * farads),
                (d.unknown("ground"), spread),
                (d.unknown(f"ground {c}"), p.pair_spread),
            )
            d.element(
                ("P", c),
                ("P", "G"),
                d.all,
                complex(-math.log(p.leakage_resistance)),
                (d.unknown("damp ground"), -p.leakage_spread),
            )
    else:
        d.wire(("P", "N"), ("P", "G"), _BOND, d.all)
    if "N" in breaks:
        _electrode(d, ("P", "G"))
    elif not d.site.unbonded:
        d.wire(("P", "G"), X0, 1.0 / p.electrode_resistance, d.all)
    if breaks:
        side, across = (p.house_resistance, p.house_spread), (p.house_across_resistance, p.house_across_spread)
        _other_loads(d, "P", "house", side, across, floating="N" in breaks)


def feeder(d: Draft) -> None:
    """Feeder of a sub-panel, and the loads behind it where they matter."""
    p = d.p
    if not d.has_feeder:
        for c in CONDUCTORS:
            d.wire(("P", c), ("Q", c), _ONE, d.all)
        return
    breaks = {b.conductor: b for b in d.site.breaks if b.section == "feeder"}
    bonded = d.scene.supply.fed_from == "sub_panel_bonded"
    for c in CONDUCTORS:
        if c == "G" and bonded:
            continue
        d.stretch("feeder", c, ("P", c), ("Q", c), p.feeder_resistance, d.all, breaks.get(c))
    if bonded:
        d.wire(("Q", "N"), ("Q", "G"), _BOND, d.all)
        _electrode(d, ("Q", "G"))
    if breaks and not d.site.idle_panel:
        side, across = (p.sub_resistance, p.sub_spread), (p.sub_across_resistance, p.sub_across_spread)
        _other_loads(d, "Q", "sub", side, across, floating="N" in breaks)


def _electrode(d: Draft, ground: Node) -> None:
    """A grounding electrode of unknown resistance."""
    d.element(
        ground,
        X0,
        d.all,
        complex(-math.log(d.p.electrode_resistance)),
        (d.unknown("electrode"), -d.p.electrode_spread),
    )


def _other_loads(
    d: Draft, panel: str, name: str, side: tuple[float, float], across: tuple[float, float], *, floating: bool
) -> None:
    """What else is on behind a panel: median [ohm] and spread of the logarithm [1] on each leg, and across the legs.

    Where the neutral floats, the loads on the legs decide its voltage: they may change from load state to load state.
    """
    p = d.p
    for leg in ("L1", "L2"):
        for state in d.live:
            terms: list[tuple[int, complex]] = [(d.unknown(f"{name} {leg}"), -side[1])]
            if floating and len(d.live) > 1:
                terms.append((d.unknown(f"{name} {leg} {state}"), -p.load_change))
            mask = d.of_state(state) & d.on
            log = complex(-math.log(side[0]))
            d.element((panel, leg), (panel, "N"), mask, log, *terms, least=p.least_house_resistance)
    if not floating and not d.scene.supply.one_leg:
        d.element(
            (panel, "L1"),
            (panel, "L2"),
            d.on,
            complex(-math.log(across[0])),
            (d.unknown(f"{name} L1 L2"), -across[1]),
            least=p.least_house_across_resistance,
        )
