"""Answers to look at, composed from hand-built outcomes: numbers are invented, but such as the model gives."""

from collections.abc import Callable

import msgspec

from feedproof.advice.compose import compose
from feedproof.contract.assessment import Assessment
from feedproof.inference import Hazards, NeutralVoltage, PathResistance, ReadingEvidence
from feedproof.readings import Supply
from support.outcomes import (
    ASSUMPTION,
    METERS,
    MODEL,
    amps,
    candidate,
    interval,
    limits,
    near,
    ohms,
    open_neutral_case,
    outcome,
    prospect,
    readings,
    speaking,
    volts,
)

EVERY_HAZARD = Hazards(
    neutral_above_30_volts=0.97,
    neutral_fault=0.98,
    service_neutral_fault=0.02,
    frame_live=0.35,
    heat_above_5_watts=0.6,
    heat_above_30_watts=0.4,
    leg_live=1.0,
)


def open_neutral() -> Assessment:
    """Give the trade's open neutral."""
    return compose(*open_neutral_case(), (ASSUMPTION,), MODEL)


def everything() -> Assessment:
    """Give an answer that uses every part of the contract."""
    reading_set = readings(
        volts("L1", "L2", 247.0, state="idle"),
        volts("L1", "N", 96.2, state="idle"),
        volts("L2", "N", 150.4, state="idle"),
        volts("L1", "N", 118.0, "loz", "heating"),
        near("N", detected=True),
        amps("L1", 19.6),
        amps("N", 1.9),
        ohms("N", "G", 0.4),
        volts("L1", "L2", 243.0),
        volts("L1", "N", 119.0),
        volts("L2", "N", 116.0),
        supply=Supply(equipment_ground="present", frame_bonded_to_neutral=None),
    )
    spans = [
        (234.0, 250.0, 234.0, 250.0, 0.0),
        (117.0, 126.0, 80.0, 112.0, 6.1),
        (117.0, 126.0, 131.0, 160.0, 7.4),
        (112.0, 122.0, 60.0, 119.0, -0.4),
        (0.03, 0.03, 0.62, 0.62, 4.2),
        (18.0, 21.0, 18.0, 21.0, 0.1),
        (0.0, 6.0, 0.0, 4.0, 0.3),
        (0.05, 0.6, 0.2, 40.0, 0.9),
        (234.0, 250.0, 234.0, 250.0, 0.0),
        (117.0, 126.0, 117.0, 126.0, 0.0),
        (117.0, 126.0, 117.0, 126.0, 0.0),
    ]
    units = ["V", "V", "V", "V", "1", "A", "A", "ohm", "V", "V", "V"]
    evidence = [
        ReadingEvidence(
            reading=index,
            observed=float(getattr(reading, "value", True)),
            unit=unit,
            sound=(low, high),
            finding=(low_found, high_found),
            bits=bits,
            test_current=0.0393 if index == 3 else None,
        )
        for index, (reading, unit, (low, high, low_found, high_found, bits)) in enumerate(
            zip(reading_set.readings, units, spans, strict=True)
        )
    ]
    inferred = outcome(
        [
            candidate("high_resistance_neutral", 0.91, "N", log_evidence=-31.0, location="upstream_of_receptacle"),
            candidate("high_resistance_neutral", 0.03, "N", log_evidence=-32.0, also=(("high_resistance_leg", "L1"),)),
            candidate("high_resistance_service_neutral", 0.02, "N", log_evidence=-34.0),
            candidate("open_neutral", 0.02, "N", log_evidence=-35.0),
            candidate("readings_inconsistent", 0.015, log_evidence=-34.5),
            candidate("high_resistance_leg", 0.004, "L1", log_evidence=-36.0),
            candidate("none_found", 0.001, log_evidence=-42.0),
        ],
        evidence=evidence,
        detection=limits(3.1, 3.3, 0.9),
        prospects=[
            prospect(meter="loz", separates=(("feeder_neutral", None), ("branch_neutral", None))),
            prospect(
                conductors=("N", "G"),
                meter_kind="high_impedance_voltmeter",
                meter="dmm",
                state="heating",
                information=0.31,
                separates=(("branch_neutral", None), ("service_neutral", None)),
            ),
            prospect("current", ("N",), meter_kind="clamp_ammeter", meter="clamp", state="heating", information=0.12),
            prospect("proximity", ("N",), meter_kind="proximity_detector", meter="pen", information=0.02),
        ],
        hazards=EVERY_HAZARD,
        neutral=[
            NeutralVoltage(
                load_state="idle", point="receptacle", during_reading=None, interval=interval(27.1, 24.0, 30.2)
            ),
            NeutralVoltage(
                load_state="heating",
                point="receptacle",
                during_reading=None,
                interval=interval(3.2, 1.1, 9.0),
            ),
            NeutralVoltage(
                load_state="heating", point="receptacle", during_reading=3, interval=interval(41.0, 12.0, 66.0)
            ),
            NeutralVoltage(
                load_state="disconnected",
                point="receptacle",
                during_reading=None,
                interval=interval(1.0, 0.0, 4.0, "at_most"),
            ),
        ],
        resistances=[
            PathResistance(
                conductor="L1",
                point="receptacle",
                interval=interval(0.07, 0.03, 0.2),
                heat=interval(27.0, 11.0, 77.0),
                sound=(0.02, 0.16),
            ),
            PathResistance(
                conductor="L2",
                point="receptacle",
                interval=interval(0.06, 0.0, 0.8, "at_most"),
                heat=None,
                sound=(0.02, 0.16),
            ),
            PathResistance(
                conductor="N",
                point="receptacle",
                interval=interval(62.0, 41.0, 160.0),
                heat=interval(224.0, 148.0, 578.0),
                sound=(0.02, 0.16),
            ),
        ],
    )
    return compose(reading_set, inferred, (ASSUMPTION,) * 4, MODEL)


def wye() -> Assessment:
    """Give a wye supply with an open neutral."""
    reading_set = readings(
        volts("L1", "L2", 208.0, state="idle"),
        volts("L1", "N", 60.0, state="idle"),
        supply=Supply(system="wye_120_208"),
    )
    inferred = outcome(
        [candidate("open_neutral", 0.9, "N", log_evidence=-9.0), candidate("none_found", 0.1, log_evidence=-19.0)],
        evidence=[speaking(0, 0.1, 208.0), speaking(1, 8.0, 60.0)],
        detection=limits(400.0, None, 50.0),
        hazards=EVERY_HAZARD,
        neutral=[
            NeutralVoltage(
                load_state="idle",
                point="receptacle",
                during_reading=None,
                interval=interval(78.0, 66.0, 90.0),
            ),
            NeutralVoltage(
                load_state="heating", point="receptacle", during_reading=None, interval=interval(50.0, 20.0, 70.0)
            ),
        ],
    )
    return compose(reading_set, inferred, (), MODEL)


def nothing_found() -> Assessment:
    """Give a sound supply with a proven neutral."""
    reading_set = readings(volts("L1", "N", 118.9, state="heating"), volts("L2", "N", 119.4, state="heating"))
    inferred = outcome(
        [candidate("none_found", 0.97, log_evidence=-5.0), candidate("open_ground", 0.02, "G", log_evidence=-5.0)],
        evidence=[speaking(0, 0.0, 118.9), speaking(1, 0.0, 119.4)],
        detection=limits(0.5, 0.6, 0.9),
        hazards=msgspec.structs.replace(
            EVERY_HAZARD, neutral_fault=0.004, frame_live=0.0, service_neutral_fault=0.001, heat_above_30_watts=0.04
        ),
        neutral=[
            NeutralVoltage(
                load_state="heating", point="receptacle", during_reading=None, interval=interval(0.6, 0.1, 1.9)
            )
        ],
    )
    return compose(reading_set, inferred, (), MODEL)


def plan() -> Assessment:
    """Give the plan: no reading yet."""
    inferred = outcome(
        [
            candidate("none_found", 0.62, log_evidence=0.0),
            candidate("open_neutral", 0.2, "N", log_evidence=0.0),
            candidate("open_leg", 0.1, "L1", log_evidence=0.0),
            candidate("open_leg", 0.08, "L2", log_evidence=0.0),
        ],
        detection=limits(None, None, None),
        prospects=[prospect(conductors=("L1", "L2"), state="disconnected"), prospect()],
        hazards=EVERY_HAZARD,
    )
    return compose(readings(meters=METERS), inferred, (), MODEL)


CASES: dict[str, Callable[[], Assessment]] = {
    "open_neutral": open_neutral,
    "everything": everything,
    "wye": wye,
    "nothing_found": nothing_found,
    "plan": plan,
}
