"""Visits to houses that the inference's model does not have the shape of, read in ngspice, and what is said of them."""

import math
from typing import NamedTuple

from feedproof.assess import assess
from feedproof.readings import Conductor, ReadingSet, Run, Supply, VoltageReading
from support.outcomes import DMM, LOZ
from support.proof_cases import LABELS as KNOWN_LABELS
from support.wrong_cases import Display, draw_case
from support.wrong_model import Ask, read

LABELS = {name: KNOWN_LABELS[name] for name in ("disconnected", "idle", "running")}
METERS = {"dmm": DMM, "loz": LOZ}
#: Input impedances as ngspice is given them: 10 Mohm with 100 pF, and 3 kohm [ohm].
_IMPEDANCE = {"dmm": 1.0 / complex(1.0 / 10e6, 2.0 * math.pi * 60.0 * 100e-12), "loz": 3e3 + 0j}

_Step = tuple[str, str, Conductor, Conductor]
_LEGS: tuple[tuple[Conductor, Conductor], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))


def _legs(meter: str, state: str) -> tuple[_Step, ...]:
    return tuple((meter, state, a, b) for a, b in _LEGS)


#: What is read on each visit: (meter, load state, conductor, conductor).
VISITS: dict[str, tuple[_Step, ...]] = {
    "unloaded, high impedance": _legs("dmm", "disconnected"),
    "unloaded, low impedance": _legs("loz", "disconnected"),
    "connected": (*_legs("dmm", "idle"), ("dmm", "idle", "N", "G")),
    "running": (*_legs("dmm", "running"), ("dmm", "running", "N", "G")),
    "six readings": (
        *_legs("dmm", "disconnected"),
        ("loz", "disconnected", "L1", "N"),
        ("loz", "disconnected", "L2", "N"),
        ("dmm", "running", "N", "G"),
    ),
    "thorough": (*_legs("loz", "disconnected"), *_legs("dmm", "running"), ("dmm", "running", "N", "G")),
}


def _where(fault: str) -> str:
    """A fault's name without its degree."""
    return fault.removeprefix("open_").removeprefix("high_resistance_")


class Said(NamedTuple):
    """What was said of one visit."""

    fault: str
    conductor: str | None
    seed: int
    visit: str
    finding: str
    on: str | None
    probability: float
    determination: str
    level: str
    readings: tuple[float, ...]

    @property
    def right(self) -> bool:
        """Whether the finding is where the trouble of the house is; how bad it is has a probability of its own."""
        return (_where(self.finding), self.on) == (_where(self.fault), self.conductor)


def visit_house(which: tuple[str, str | None, int]) -> list[Said]:
    """Read one house and have every visit assessed.

    Parameters
    ----------
    which : tuple of str, str or None, int
        Fault, conductor and seed, as `draw_case` takes them.
    """
    fault, conductor, seed = which
    case = draw_case(fault, conductor, seed)
    there = set(case.house.run)
    steps = sorted({step for steps in VISITS.values() for step in steps if {*step[2:]} <= there})
    asks = [Ask("voltage", (a, b), load_state=state, impedance=_IMPEDANCE[meter]) for meter, state, a, b in steps]
    true = dict(zip(steps, read(case.house, asks), strict=True))
    shown: dict[_Step, float] = {}
    for meter in METERS.values():
        mine = [step for step in steps if step[0] == meter.name]
        display = Display(meter.accuracy_percent, meter.accuracy_counts, meter.resolution, seed)
        shown |= dict(zip(mine, display.show([true[step] for step in mine]), strict=True))
    supply = Supply(
        equipment_ground="present" if "G" in there else "absent",
        frame_bonded_to_neutral=None if "G" not in there else case.house.frame_bond is not None,
        run=Run(size=case.size, material=case.material, length=case.length),
    )
    said = []
    for name, wanted in VISITS.items():
        taken = [step for step in wanted if step in shown]
        answer = assess(
            ReadingSet(
                supply=supply,
                meters={step[0]: METERS[step[0]] for step in taken},
                load_states={step[1]: LABELS[step[1]] for step in taken},
                readings=tuple(
                    VoltageReading(between=(a, b), value=shown[step], meter=step[0], load_state=step[1])
                    for step in taken
                    for a, b in [step[2:]]
                ),
            )
        )
        said.append(
            Said(
                fault=fault,
                conductor=conductor,
                seed=seed,
                visit=name,
                finding=answer.finding.fault,
                on=answer.finding.conductor,
                probability=answer.finding.probability,
                determination=answer.determination,
                level=answer.confidence.level,
                readings=tuple(shown[step] for step in taken),
            )
        )
    return said
