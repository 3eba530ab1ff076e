"""Instruments in a person's hands: what a display shows, what is written down, and how a request states the meter.

Figures are typical of each kind of instrument, common practice, no source, but for the high-impedance voltmeter's
10 Mohm (Kuphaldt, Lessons in Electric Circuits, vol. I ch. 8).
"""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from support.trade.house import VoltInput


@dataclass(frozen=True)
class Meter:
    """One instrument, with its own error, and how the request speaks of it."""

    kind: str
    stated: dict[str, Any]
    """Entry of the request's `meters`."""
    input: VoltInput = field(default_factory=VoltInput)
    percent: float = 1.0
    counts: float = 3.0
    step: float = 0.1
    gain: float = 0.0
    """Share of the reading by which it is off, the same in all its readings [1]."""
    dead: bool = False
    """Shows next to nothing whatever it is held to."""
    threshold: float = 50.0
    """Of a proximity detector [V]."""


def dmm(rng: np.random.Generator) -> Meter:
    """A digital voltmeter of 10 Mohm and 100 pF."""
    percent = float(rng.choice([0.5, 0.8, 1.0, 1.5]))
    stated = {
        "kind": "voltmeter",
        "input_impedance": "10 Mohm",
        "accuracy_percent": percent,
        "accuracy_counts": 3,
        "resolution": "0.1 V",
    }
    gain = percent / 100.0 * float(rng.uniform(-0.6, 0.6))
    return Meter("voltmeter", stated, percent=percent, gain=gain)


def low_impedance(rng: np.random.Generator) -> Meter:
    """A low-impedance voltmeter, 2 to 10 kohm."""
    ohms = float(rng.choice([2e3, 3e3, 3e3, 3e3, 4.5e3, 7e3, 10e3]))
    stated = {
        "kind": "voltmeter",
        "input_impedance": f"{ohms / 1e3:g} kohm",
        "accuracy_percent": 1.5,
        "accuracy_counts": 3,
        "resolution": "1 V" if rng.random() < 0.5 else "0.1 V",
    }
    step = 1.0 if stated["resolution"] == "1 V" else 0.1
    gain = 0.015 * float(rng.uniform(-0.6, 0.6))
    return Meter("voltmeter", stated, VoltInput(ohms, 0.0), 1.5, 3.0, step, gain)


def middling(rng: np.random.Generator) -> Meter:
    """A two-pole tester or old meter of 400 kohm."""
    stated = {"kind": "voltmeter", "input_impedance": "400 kohm", "accuracy_percent": 2.0, "resolution": "1 V"}
    return Meter("voltmeter", stated, VoltInput(4e5, 0.0), 2.0, 3.0, 1.0, 0.02 * float(rng.uniform(-0.6, 0.6)))


def pen(rng: np.random.Generator) -> Meter:
    """A proximity detector."""
    threshold = float(rng.choice([40.0, 50.0, 60.0]))
    return Meter(
        "proximity_detector", {"kind": "proximity_detector", "threshold": f"{threshold:g} V"}, threshold=threshold
    )


def clamp(rng: np.random.Generator) -> Meter:
    """A clamp ammeter that shows hundredths."""
    stated = {"kind": "clamp_ammeter", "accuracy_percent": 2.0, "accuracy_counts": 5, "resolution": "0.01 A"}
    return Meter("clamp_ammeter", stated, percent=2.0, counts=5.0, step=0.01, gain=0.02 * float(rng.uniform(-0.6, 0.6)))


def ohms(rng: np.random.Generator) -> Meter:
    """An ohmmeter with leads of 0.1 to 0.2 ohm nulled."""
    stated = {"kind": "ohmmeter", "accuracy_percent": 1.0, "accuracy_counts": 3, "resolution": "0.1 ohm"}
    return Meter("ohmmeter", stated, counts=3.0, gain=0.01 * float(rng.uniform(-0.6, 0.6)))


HIGHEST_OHMS = 40e6


def shown(meter: Meter, true: float, rng: np.random.Generator) -> float:
    """What the display shows, in the reading's unit."""
    if meter.dead:
        true = 0.0
    noise = float(rng.normal(0.0, 0.35 * meter.counts * meter.step)) if true > meter.step or not meter.dead else 0.0
    value = abs(true * (1.0 + meter.gain) + noise * min(1.0, 0.2 + true / 20.0))
    return round(round(value / meter.step) * meter.step, 6)


def noted(value: float, *, whole: bool) -> float:
    """What is written down of a voltage: whole volts from 10 V up, tenths below."""
    if whole and value >= 10.0:
        return float(round(value))
    return round(value, 1)


def signals(meter: Meter, volts_to_earth: float, rng: np.random.Generator) -> bool:
    """Whether a proximity detector signals: surely far above its threshold, hardly ever far below it."""
    rise = 1.0 / (1.0 + math.exp(-(volts_to_earth - meter.threshold) / (0.15 * meter.threshold)))
    return bool(rng.random() < 0.005 + 0.985 * rise)


def mistyped(value: float, rng: np.random.Generator) -> float:
    """A slip of the finger: a digit lost, doubled, exchanged, or the point misplaced."""
    text = f"{value:g}"
    digits = [k for k, c in enumerate(text) if c.isdigit()]
    k = int(rng.choice(digits))
    slip = int(rng.integers(3))
    if slip == 0 and len(digits) > 1:
        text = text[:k] + text[k + 1 :]
    elif slip == 1:
        text = text[:k] + str(int(rng.integers(10))) + text[k + 1 :]
    else:
        return round(value * float(rng.choice([0.1, 10.0])), 2) if value < 99 else round(value * 0.1, 1)
    return min(float(text or "0"), 999.0) if text not in {"", "."} else 0.0
