"""The answer to a reading set, exactly as it goes over the wire.

Numbers are floats with their unit beside them. Lists that may grow in later versions (fault names, caution
codes, hazards) are plain strings, so that a client built today reads tomorrow's answers.
"""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import BreakPosition as BreakPosition
from feedproof.contract.estimates import ConductorName, PointName, ReadingIndex, StateLabel, UnitName, about
from feedproof.contract.estimates import ConductorResistance as ConductorResistance
from feedproof.contract.estimates import ConfidenceLevel as ConfidenceLevel
from feedproof.contract.estimates import DetectionLimit as DetectionLimit
from feedproof.contract.estimates import Determination as Determination
from feedproof.contract.estimates import Disposition as Disposition
from feedproof.contract.estimates import Estimate as Estimate
from feedproof.contract.estimates import Expected as Expected
from feedproof.contract.estimates import Flag as Flag
from feedproof.contract.estimates import NeutralToEarth as NeutralToEarth
from feedproof.contract.estimates import NeutralToGround as NeutralToGround
from feedproof.contract.estimates import NextReason as NextReason
from feedproof.contract.estimates import Severity as Severity
from feedproof.contract.finding import Candidate as Candidate
from feedproof.contract.finding import FaultPart as FaultPart
from feedproof.contract.finding import Finding as Finding
from feedproof.contract.finding import Part as Part
from feedproof.contract.finding import PlaceName as PlaceName
from feedproof.contract.grounds import AssessedSupply as AssessedSupply
from feedproof.contract.grounds import Assumption as Assumption
from feedproof.contract.grounds import LegVoltage as LegVoltage
from feedproof.contract.grounds import ModelIdentity as ModelIdentity
from feedproof.contract.grounds import ModelRelease as ModelRelease
from feedproof.contract.next_reading import NextReading
from feedproof.contract.visit import AssessedVisit as AssessedVisit
from feedproof.contract.visit import VisitMeter as VisitMeter
from feedproof.contract.words import example


class Reason(Struct, frozen=True, kw_only=True):
    """One reason of the confidence."""

    code: Annotated[str, example("speaks_for_it")]
    """What it is, as a word. The list may grow."""
    text: Annotated[str, example("The neutral was read with a low-impedance meter.")]
    """The same in words."""
    readings: Annotated[list[ReadingIndex], example([1])]
    """Indexes of the readings that it speaks of."""


class Confidence(Struct, frozen=True, kw_only=True):
    """How far the finding can be leaned on, with reasons that a person can act on.

    It is about the evidence, and no third scale of how probable the finding is: `disposition` drives the screen.
    """

    level: Annotated[ConfidenceLevel, example("high")]
    """`high`, `moderate`, `low` or `none`."""
    reasons: Annotated[
        list[Reason],
        example([{"code": "one_reading_alone", "text": "One reading alone carries the finding.", "readings": [1]}]),
    ]
    """Why. A reading that the finding does not explain stands first."""


class Observed(Struct, frozen=True, kw_only=True):
    """What was read. For a proximity reading, 1 where the detector signalled, else 0."""

    value: Annotated[float, example(7.0)]
    """The reading, in `unit`. Where `over_range`, no figure that was read: the end of the range, or the least that it
    may have been; show `display`."""
    unit: UnitName
    over_range: Annotated[bool, Meta(examples=[False])] = False
    """The meter showed OL: what was read lies above `value`, nobody knows how far."""
    display: Annotated[str, example("7 V")] = ""
    """The same in words: "OL", with the end of the range where it is known; a detector's "signal" or "no signal"."""


class ReadingIdentity(Struct, frozen=True, kw_only=True):
    """Which reading it was: the request's own words, repeated so that the answer can be read by itself."""

    kind: Annotated[str, example("voltage", words="ReadingKind")]
    """`voltage`, `proximity`, `current` or `resistance`."""
    conductors: Annotated[list[ConductorName], example(["L1", "N"])]
    """Two for a voltage or a resistance, one for proximity and current."""
    point: PointName
    meter: Annotated[str, example("loz")]
    """The meter's label in the request."""
    load_state: StateLabel
    load_state_kind: Annotated[str, example("disconnected", words="LoadStateCode")]
    """`disconnected`, `idle`, `running` or `test_load`."""


ReadingOwnId = Annotated[str | None, about("The reading's own `id`. Null: the request gives it none.", "first")]


class Evidence(Struct, frozen=True, kw_only=True):
    """What one reading says, beside all the others."""

    reading: ReadingIndex
    id: ReadingOwnId = None
    observed: Annotated[Observed, example({"value": 7.0, "unit": "V", "over_range": False, "display": "7 V"})]
    """What was read."""
    expected_if_sound: Annotated[Expected, example({"low": 118.2, "high": 125.9})]
    """What a sound supply would have given."""
    expected_under_finding: Annotated[Expected, example({"low": 0.0, "high": 11.0})]
    """What the finding gives."""
    flag: Annotated[Flag, example("low", words="Flag")]
    """Against what a sound supply would have given: `low`, `high` or `as_expected`; of a proximity detector
    `as_expected` where a sound supply would have done the same in one case of twenty or more."""
    bits: Annotated[float, example(12.4)]
    """Weight of this reading for the finding against a sound supply, given all the others [bit]. Negative: it speaks
    against."""
    identity: Annotated[ReadingIdentity | None, example({
        "kind": "voltage", "conductors": ["L1", "N"], "point": "receptacle", "meter": "loz",
        "load_state": "disconnected", "load_state_kind": "disconnected",
    })] = None  # fmt: skip
    """Which reading it was."""
    test_current: Annotated[float | None, example(0.0023)] = None
    """Current that a low-impedance voltmeter drew during the reading [A]. Null: no such meter."""


class Check(Struct, frozen=True, kw_only=True):
    """Readings that no single circuit can give together."""

    code: Annotated[str, example("off_the_line", words="CheckCode")]
    """What does not fit, as a word. The list may grow."""
    readings: Annotated[list[ReadingIndex], example([0, 1, 2])]
    """Indexes of the readings concerned."""
    ids: Annotated[list[ReadingOwnId], example(["first", None, None])] = []
    """Their own ids, in the same order; null: it has none."""
    text: Annotated[str, example("The two leg readings fall 7 V short of leg to leg.")]
    """The same in words."""


class Caution(Struct, frozen=True, kw_only=True):
    """A caution that applies to this job."""

    rank: Annotated[int, Meta(ge=1, examples=[1])]
    """Place in the order to show them in, 1 first: this case's own hazards, then what always holds."""
    code: Annotated[str, example("neutral_as_live", words="CautionCode")]
    """Name of the caution (see `/v1/cautions`). The list may grow."""
    severity: Annotated[Severity, example("danger")]
    """By the meanings of ANSI Z535.4: `danger` (not avoided, it will kill or seriously injure), `warning` (it could) or
    `notice` (nobody is injured). It says nothing of the rank."""
    title: Annotated[str, example("Treat the neutral as live")]
    """What to do, short, for the top of a screen. Where the hazard is only possible, it begins with an "if" that names
    what a person can see or read."""
    text: Annotated[str, example("Treat the neutral as live, even if it reads near 0 V now.")]
    """The same in full."""
    basis: Annotated[str, example("Common practice, no source")]
    """Where it comes from."""
    because: Annotated[str, example("The neutral may stand 116 V above ground.")]
    """What set it off."""
    because_code: Annotated[str, example("probability")]
    """The same as a word: `probability`, `shown` (by a reading or observation), `unproven`, `proven` (only by a
    tester that shows nothing), `bonded`, `unknown`, `upstream`, `always`. The list may grow."""


class Assessment(Struct, frozen=True, kw_only=True):
    """What the readings say of the supply, and what to do about it."""

    reference: Annotated[str | None, example("INVENTED, cabin 12, range")]
    """The request's own reference."""
    finding: Annotated[Finding, example({
        "place": "branch_neutral", "title": "Branch neutral bad: open", "parts": [], "degree": "open",
        "degree_probability": 0.999, "fault": "open_neutral", "conductor": "N",
        "location": "between_panel_and_receptacle", "probability": 0.997, "also": [],
    })]  # fmt: skip
    """The most probable state of the supply. `none_found` is a statement about these readings and their detection
    limits, and never that the supply is free of danger."""
    determination: Annotated[Determination, example("established")]
    """Of the place and conductor. `established`: 0.97 or more (0.95 where no fault was found), and readings speak for
    it; `probable`: 0.75 or more; `undetermined`: the readings do not tell, see `candidates` and `next_readings`."""
    confidence: Annotated[Confidence, example({"level": "high", "reasons": []})]
    """How far the finding can be leaned on."""
    candidates: Annotated[list[Candidate], example([
        {
            "fault": "open_neutral", "conductor": "N", "place": "branch_neutral", "title": "Open neutral",
            "probability": 0.997, "log_evidence": -6.2, "also": [],
        }
    ])]  # fmt: skip
    """Every fault considered that has at least 0.1 % of the probability, most probable first."""
    neutral_to_ground: Annotated[list[NeutralToGround], example([
        {
            "value": 116.4, "low": 113.0, "high": 119.8, "unit": "V", "bound": "two_sided", "limit": None,
            "told_by": "readings", "display": "116.4 V (113 to 119.8 V)",
            "title": "Neutral to ground, appliance connected, not started, no meter connected",
            "load_state": "idle", "point": "receptacle", "during_reading": None, "angle": 0.0,
        }
    ])]  # fmt: skip
    """Voltage of the neutral to the ground bar of the service panel (not earth: see `neutral_to_earth`), per load
    state, and per low-impedance reading while that meter is connected."""
    resistances: Annotated[list[ConductorResistance], example([
        {
            "value": 4100.0, "low": 1900.0, "high": 9900.0, "unit": "ohm", "bound": "at_least",
            "limit": 1900.0, "told_by": "readings", "display": "at least 1.9 kΩ",
            "title": "Neutral, panel to receptacle", "conductor": "N", "point": "receptacle",
            "section": "branch",
            "heat": None,
            "sound": {"low": 0.02, "high": 0.09},
        }
    ])]  # fmt: skip
    """Per conductor, of the path from the panel to the point."""
    detection_limits: Annotated[
        list[DetectionLimit],
        example([{"conductor": "N", "value": 42.0, "unit": "ohm", "meaning": "A joint below 42 ohm could hide."}]),
    ]
    """Per conductor, the smallest series resistance that these readings would have shown."""
    evidence: Annotated[list[Evidence], example([
        {
            "reading": 1, "id": None, "observed": {"value": 7.0, "unit": "V", "over_range": False, "display": "7 V"},
            "expected_if_sound": {"low": 118.2, "high": 125.9},
            "expected_under_finding": {"low": 0.0, "high": 11.0}, "flag": "low",
            "bits": 12.4, "identity": None, "test_current": 0.0023,
        }
    ])]  # fmt: skip
    """Per reading of the request, in its order."""
    checks: Annotated[
        list[Check],
        example(
            [
                {
                    "code": "off_the_line",
                    "readings": [0, 1, 2],
                    "ids": [None, None, None],
                    "text": "The leg readings fall 7 V short.",
                }
            ]
        ),
    ]
    """Readings that no circuit can give together; empty where all fit."""
    next_readings: Annotated[list[NextReading], example([
        {
            "id": "voltage L1-N receptacle disconnected loz",
            "title": "Voltage L1 to neutral at the receptacle, appliance disconnected",
            "reading": {
                "kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected",
                "point": "receptacle",
            },
            "observation": None, "load_state": {"kind": "disconnected"}, "meter": None,
            "meter_kind": "low_impedance_voltmeter", "steps": ["Leave the appliance disconnected."],
            "expect": [], "why_code": "tells_apart",
            "information": 0.62, "why": "It tells an open neutral from a sound one.", "hazards": [],
        }
    ])]  # fmt: skip
    """What to read next, most worth taking first, the less hazardous first among near equals; only what is worth
    taking. Empty: see `next_reason`."""
    disposition: Annotated[Disposition, example("stop_and_refer")]
    """What to do with the job: `stop_and_refer` (see `refer_to`), `repair_and_retest` (the technician's own part,
    de-energized), `take_more_readings`, or `no_supply_fault_found`. It drives the screen."""
    cautions: Annotated[list[Caution], example([
        {
            "rank": 1, "code": "neutral_as_live", "severity": "danger", "title": "Treat the neutral as live",
            "text": "Treat the neutral as live, even if it reads near 0 V now.",
            "basis": "Common practice, no source", "because": "The neutral may stand 116 V above ground.",
            "because_code": "probability",
        }
    ])]  # fmt: skip
    """The cautions that apply, ranked. Never empty."""
    assumptions: Annotated[list[Assumption], example([
        {
            "pointer": "/meters/dmm/input_impedance", "value": 10e6, "unit": "ohm",
            "basis": "typical of a high-impedance voltmeter",
        }
    ])]  # fmt: skip
    """Every value that the request left out and the service filled in."""
    model: Annotated[
        ModelIdentity,
        example(
            {
                "version": "0.1.0",
                "priors_digest": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
                "request_digest": None,
            }
        ),
    ]
    """Which model answered which request."""
    supply: Annotated[AssessedSupply | None, example({
        "system": "split_phase_120_240", "frequency": 60.0,
        "legs": [{"conductor": "L1", "voltage": 121.5, "angle": 0.0, "unit": "V"}],
    })] = None  # fmt: skip
    """The supply that the readings were taken to come from."""
    headline: Annotated[str, example("Service neutral bad: over 99 %")] = ""
    """What was found, in the one line that a screen shows first."""
    next_action: Annotated[str, example("Stop. Hand this to the utility and to a licensed electrician.")] = ""
    """What to do first, in one line."""
    refer_to: Annotated[
        list[Annotated[str, about("Who must act.", "electrician", words="PartyCode")]],
        example(["utility", "electrician"]),
    ] = []
    """Who must act, from the parts of 5 % or more: any of `utility`, `electrician`, `technician` (cord, plug, terminal
    block: de-energized work). Empty: nobody."""
    next_reason: Annotated[NextReason | None, example(None)] = None
    """Why there is nothing to read next: `enough`, `nothing_would_tell` (no permitted reading would decide), or
    `stop_first` (a dangerous place is probable: stop and refer, and read no further). Null: see `next_readings`."""
    neutral_to_earth: Annotated[list[NeutralToEarth], example([
        {
            "value": 24.1, "low": 22.9, "high": 25.4, "unit": "V", "bound": "two_sided", "limit": None,
            "told_by": "readings", "display": "24.1 V (22.9 to 25.4 V)",
            "title": "Neutral and grounded frames to earth, appliance connected, not started",
            "load_state": "idle",
        }
    ])] = []  # fmt: skip
    """Voltage of the panel's neutral, and of every frame bonded to it, to the transformer's grounded point, per load
    state. Empty behind a generator, where there is no such point."""
    break_position: Annotated[BreakPosition | None, example({
        "value": 0.1, "low": 0.0, "high": 0.4, "unit": "m", "bound": "two_sided", "limit": None,
        "told_by": "readings", "display": "0.1 m (0 to 0.4 m)",
        "title": "Break in the neutral, from the outlet back",
        "conductor": "N",
    })] = None  # fmt: skip
    """Where the run is open, in metres from the outlet, where readings tell."""
    visit: Annotated[AssessedVisit | None, example({
        "site": "INVENTED campground", "appliance": "Range", "receptacle": "14-50R", "run": "6 AWG",
        "taken_by": "INVENTED technician 7", "taken_at": "2026-11-29", "calibration": None,
        "meters": [{"name": "loz", "proved": True}],
    })] = None  # fmt: skip
    """The visit as the request states it, for the head of a note."""
