"""Guided visits to hidden circuits of every situation: who goes there with what, how a visit ended, and the table."""

import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np

from support.trade.judge import Verdict, judge
from support.trade.scene import Case
from support.trade.situations import scene
from support.trade.technician import Technician
from support.trade.walks import Walk, walk

_KITS = (("dmm", "loz"), ("dmm", "loz"), ("dmm", "loz", "clamp", "pen"), ("dmm",), ("loz",))
_PANELS = frozenset({"service_panel", "sub_panel"})


@dataclass(frozen=True)
class Ended:
    """How one guided visit ended, held against the truth."""

    verdict: Verdict
    walk: Walk
    technician: str
    right: bool
    """The right place and the right referral; or sound, and said to be no fault found; or nothing would tell or showed,
    where all permitted readings together do not decide either."""
    sound_though_faulty: bool
    """Ended with no fault found on a supply that has one, which all permitted readings together would show."""


def technician_for(name: str, seed: int, *, hampered: bool = True) -> Technician:
    """Someone who goes to a case's circuit; `hampered`: with some meters only, panels shut, and slips of the pen."""
    rng = np.random.default_rng([zlib.crc32(name.encode()), seed, 515])
    if not hampered:
        return Technician(scene(name, seed), seed, ("dmm", "loz", "clamp"))
    unreachable = _PANELS if rng.random() < 0.3 else frozenset()
    return Technician(scene(name, seed), seed, _KITS[int(rng.integers(len(_KITS)))], unreachable, mistypes=0.03)


def ended(
    name: str,
    seed: int,
    assess: Callable[[dict[str, Any]], Mapping[str, Any]],
    *,
    hampered: bool = True,
    most: int = 12,
) -> Ended:
    """Walk one visit and judge its end."""
    technician = technician_for(name, seed, hampered=hampered)
    went = walk(technician, assess, most)
    site = technician.scene
    case = Case(name, site.variant, seed, site.truth, technician.request(), site)
    verdict = judge(case, went.answer)
    disposition, sound = went.answer.get("disposition"), site.truth.place == "none"
    done = verdict.established_right or (verdict.place_right and disposition == "stop_and_refer")
    right = done and verdict.referred is not False
    if sound:
        right = verdict.place == "none" and verdict.determination != "undetermined" and went.end != "asked for ever"
    said_sound = disposition == "no_supply_fault_found" or (verdict.established and verdict.place == "none")
    # A leak inside the appliance is no fault of its supply; a joint that held through the whole visit shows nothing.
    held = site.sound_sometimes is not None and not technician.met
    said_sound = said_sound and not sound and not held and site.truth.place != "leak_to_ground"
    stalled = went.end in {"nothing_would_tell", "nothing that could be taken"}
    if not right and not sound and (said_sound or stalled):
        seen = judge(case, _with_everything(technician, assess)).established_right
        right, said_sound = not seen, said_sound and seen
    who = f"{'+'.join(technician.meters)}{', panels shut' if technician.unreachable else ''}"
    return Ended(verdict, went, who, right, said_sound)


def _with_everything(
    technician: Technician, assess: Callable[[dict[str, Any]], Mapping[str, Any]]
) -> Mapping[str, Any]:
    """What is said once all that can be read has been read, without slips."""
    thorough = Technician(technician.scene, technician.seed + 1, technician.meters, technician.unreachable)
    thorough.take_all()
    thorough.observed = technician.observed
    return assess(thorough.request())


def visits_table(all_ended: Sequence[Ended]) -> str:
    """By situation, in Markdown."""
    head = ("situation", "visits", "right end", "sound though faulty", "median readings", "asked for ever", "forbidden")
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    for name in [*dict.fromkeys(e.verdict.situation for e in all_ended), "all"]:
        part = [e for e in all_ended if name in {"all", e.verdict.situation}]
        row = [
            name,
            str(len(part)),
            f"{sum(e.right for e in part)} ({sum(e.right for e in part) / len(part):.0%})",
            str(sum(e.sound_though_faulty for e in part)),
            f"{median(e.walk.readings for e in part):g}",
            str(sum(e.walk.end == "asked for ever" for e in part)),
            str(sum(bool(e.walk.forbidden) for e in part)),
        ]
        lines.append("| " + " | ".join(row) + " |")
    return "\n".join(lines) + "\n"
