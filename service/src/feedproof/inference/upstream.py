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
        # The frame and all ground conductors hang on what strays the whole wiring has.
        for c in ("L1", "L2", "N"):
            d.element(
                ("P", c),
                ("P", "G"),
                d.on,
                cmath.log(1j * d.omega * p.frame_capacitance),
                (d.unknown(f"ground {c}"), p.frame_capacitance_spread),
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
    house = bool(breaks)
    if "N" in breaks:
        d.element(
            ("P", "G"),
            X0,
            d.all,
            complex(-math.log(p.electrode_resistance)),
            (d.unknown("electrode"), -p.electrode_spread),
        )
    elif not d.site.unbonded:
        d.wire(("P", "G"), X0, 1.0 / p.electrode_resistance, d.all)
    if house:
        own = "N" in breaks
        for leg in ("L1", "L2"):
            for state in sorted({s for s, on, _ in d.circuits if on}):
                mask = d.of_state(state) & d.on
                terms: list[tuple[int, complex]] = [(d.unknown(f"house {leg}"), -p.house_spread)]
                if own and len({s for s, on, _ in d.circuits if on}) > 1:
                    terms.append((d.unknown(f"house {leg} {state}"), -p.load_change))
                d.element(
                    ("P", leg),
                    ("P", "N"),
                    mask,
                    complex(-math.log(p.house_resistance)),
                    *terms,
                    least=p.least_house_resistance,
                )
        if "N" not in breaks and d.scene.supply.system != "single_phase_120":
            d.element(
                ("P", "L1"),
                ("P", "L2"),
                d.on,
                complex(-math.log(p.house_across_resistance)),
                (d.unknown("house L1 L2"), -p.house_across_spread),
                least=p.least_house_across_resistance,
            )


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
        d.element(
            ("Q", "G"),
            X0,
            d.all,
            complex(-math.log(p.electrode_resistance)),
            (d.unknown("electrode"), -p.electrode_spread),
        )
    if breaks and not d.site.idle_panel:
        for leg in ("L1", "L2"):
            for state in sorted({s for s, on, _ in d.circuits if on}):
                mask = d.of_state(state) & d.on
                terms: list[tuple[int, complex]] = [(d.unknown(f"sub {leg}"), -p.sub_spread)]
                if "N" in breaks and len({s for s, on, _ in d.circuits if on}) > 1:
                    terms.append((d.unknown(f"sub {leg} {state}"), -p.load_change))
                d.element(
                    ("Q", leg),
                    ("Q", "N"),
                    mask,
                    complex(-math.log(p.sub_resistance)),
                    *terms,
                    least=p.least_house_resistance,
                )
        if "N" not in breaks and d.scene.supply.system != "single_phase_120":
            d.element(
                ("Q", "L1"),
                ("Q", "L2"),
                d.on,
                complex(-math.log(p.sub_across_resistance)),
                (d.unknown("sub L1 L2"), -p.sub_across_spread),
                least=p.least_house_across_resistance,
            )
