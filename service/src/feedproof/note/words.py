"""Words that only the note needs: its readings' rows, its heads, for the customer, and what was assumed."""

from collections.abc import Sequence

from msgspec import Struct

from feedproof.advice.candidates import without_degree
from feedproof.advice.summary import assumed_words, expected_words, of_this_case, warnings_first
from feedproof.advice.wording import (
    joined,
    observed_words,
    party_names,
    quantity,
    sentence,
    system_name,
    what_words,
    where_words,
)
from feedproof.contract.assessment import Assessment, Assumption, Caution, Evidence

#: At most this many dangers are shown at the top; all of them are listed under the cautions.
MOST_FIRST = 3

_FLAGS = {"low": "▼ LOW", "high": "▲ HIGH", "as_expected": "as expected"}

#: What the fields of a request are called, where taking the underscores out of a name does not tell.
_FIELDS = {
    "accuracy counts": "accuracy in counts",
    "accuracy percent": "accuracy in percent",
    "tolerance percent": "tolerance in percent",
    "fed from": "what feeds the circuit",
    "value": "OL taken to lie above",
}


class Row(Struct, frozen=True):
    """Readings that tell the same, in one row of a laboratory report."""

    entry: Evidence
    """The first of them."""
    numbers: tuple[int, ...]
    """All of them, from 1."""
    name: str
    where: str
    value: str
    sound: str
    found: str
    flag: str


#: Under the title of the readings, and at the end of the note.
LEGEND = (
    "Nine of ten such readings on a sound supply fall within the sound range, the hatched middle of each scale."
    " An arrow: farther off than the scale reaches."
)
UNSEEN = "The model infers from the readings given; it has not seen the site."


def rows(assessment: Assessment) -> list[Row]:
    """The readings, those that are alike in every word in one row."""
    found: dict[tuple[str, ...], Row] = {}
    for entry in assessment.evidence:
        what, where, value = _read(entry)
        told = (what, where, value, expected_words(entry, sound=True), expected_words(entry, sound=False))
        earlier = found.get(told)
        numbers = (*(earlier.numbers if earlier else ()), entry.reading + 1)
        name = f"{', '.join(str(number) for number in numbers)}. {what}"
        flag = _FLAGS.get(entry.flag, entry.flag)
        found[told] = Row(earlier.entry if earlier else entry, numbers, name, *told[1:], flag)
    return list(found.values())


def _read(entry: Evidence) -> tuple[str, str, str]:
    """What was read, under which conditions, and what was seen."""
    seen, identity = entry.observed, entry.identity
    if identity is None:
        return "Reading", "", quantity(seen.value, seen.unit)
    drew = "" if entry.test_current is None else f"; the meter drew {quantity(entry.test_current, 'A')}"
    where = f"{where_words(identity)}, {identity.meter}{drew}"
    return sentence(what_words(identity)), where, observed_words(seen, identity)


def dangers(assessment: Assessment) -> list[Caution]:
    """Every caution that is a danger, in their order."""
    return [caution for caution in assessment.cautions if caution.severity == "danger"]


def warned_first(assessment: Assessment) -> list[Caution]:
    """What stands at the top of the note by its title: dangers, and what is ranked first whatever its severity."""
    return warnings_first(assessment)[:MOST_FIRST]


def more_dangers(assessment: Assessment) -> str:
    """That further dangers stand below; empty where none does."""
    first = warned_first(assessment)
    left = sum(caution not in first for caution in dangers(assessment))
    return f"and {left} more under Cautions" if left > 0 else ""


def ended(title: str) -> str:
    """A title as a sentence of its own: a question has its mark."""
    return title if title.endswith("?") else f"{title}."


def caution_words(assessment: Assessment, caution: Caution) -> str:
    """A caution in full; with its title where that does not stand at the top of the note."""
    untitled = caution.severity == "danger" and caution not in warned_first(assessment)
    untitled = untitled and not caution.text.startswith(caution.title)
    return f"{caution.title}. {caution.text}" if untitled else caution.text


#: Codes of the cautions that metal anywhere in the building, or on one panel, may be live.
_BUILDING_LIVE = frozenset({"grounded_frames_off_earth", "service_neutral"})


def for_customer(assessment: Assessment) -> str:
    """One plain paragraph for who lives with the supply; it takes no part of it for good."""
    who = party_names(assessment.refer_to)
    codes = {caution.code for caution in of_this_case(assessment.cautions)}
    off = f"Leave the circuit off, and touch neither outlet nor appliance, until checked by {who}."
    found = without_degree(assessment.finding)
    said = f'The readings point to the electrical supply ("{found}")'
    if assessment.disposition == "stop_and_refer":
        if assessment.finding.place in {"none", "tester", "readings"} or assessment.determination == "undetermined":
            said = "The readings point to trouble in the electrical supply, though not yet to one place"
        told = f"{said}. {off}"
    elif assessment.disposition == "repair_and_retest":
        told = (
            f'The readings point to the appliance\'s own connection ("{found}"). It stays off until it has been'
            " repaired and the readings have been taken again."
        )
    elif assessment.disposition == "no_supply_fault_found":
        told = (
            "These readings show no fault of the electrical supply. They cannot show everything: a joint that was not"
            " loaded while it was read, or one that makes and breaks, may have gone unseen."
        )
    elif assessment.finding.place == "other_supply_system" and assessment.determination != "undetermined":
        told = (
            f'The readings point to another kind of supply ("{found}"). The appliance is not to be started until it has'
            " been settled whether it may run on that."
        )
    else:
        told = (
            "The readings do not decide yet whether the electrical supply is at fault. More of them have to be taken"
            " before anything is replaced."
        )
    if codes and assessment.disposition in {"take_more_readings", "no_supply_fault_found"}:
        told += f" {off}"
    if codes & _BUILDING_LIVE:
        told += " Metal frames and pipes anywhere in the building may be live: touch none."
    if "service_neutral" in codes:
        told += " Lights that brighten and dim call for the main breaker off."
    if "feeder_neutral" in codes:
        told += " Metal frames on the circuits of the same panel may be live: touch none."
    return f"{told} This does not replace an inspection; local codes decide who may work on it."


def heads(assessment: Assessment) -> list[tuple[str, str]]:
    """The head of the note below its title, which has the reference; an empty text is a line to write on."""
    visit, supply = assessment.visit, assessment.supply
    meters = [] if visit is None else visit.meters
    outlet = [] if visit is None else [visit.receptacle, visit.run]
    told = [
        ("Site", visit and visit.site),
        ("Appliance", visit and visit.appliance),
        ("Receptacle and run", ", ".join(part for part in outlet if part)),
        ("Supply taken to be", supply and system_name(supply.system)),
        ("Taken by", visit and visit.taken_by),
        ("Taken when", visit and visit.taken_at and visit.taken_at.replace("T", " ", 1)),
        ("Meters", ", ".join(meter.name for meter in meters)),
        ("Proved before and after", ", ".join(meter.name for meter in meters if meter.proved)),
    ]
    calibration = [("Calibration", visit.calibration)] if visit is not None and visit.calibration else []
    return [(what, words or "") for what, words in [*told, *calibration]]


def assumptions(assessment: Assessment) -> list[str]:
    """What was filled in: "Dmm, loz: input capacitance 100 pF, accuracy in counts 3. Typical of ..."."""
    owners: dict[tuple[str, str], list[str]] = {}
    for item in assessment.assumptions:
        field, owner = _named(item.pointer)
        owners.setdefault((f"{field} {_value(item)}", item.basis.rstrip(".")), []).append(owner)
    told: dict[tuple[str, str], list[str]] = {}
    for (value, basis), names in owners.items():
        told.setdefault((_of(names), basis), []).append(value)
    return [f"{_sentence(owner)}: {', '.join(values)}. {sentence(basis)}." for (owner, basis), values in told.items()]


def _sentence(owner: str) -> str:
    """With a capital, but for a meter's or load state's own name."""
    return (
        sentence(owner) if owner.split(" ", maxsplit=1)[0] in {"supply", "appliance", "reading", "readings"} else owner
    )


def _value(item: Assumption) -> str:
    if item.pointer == "/supply/system":
        return system_name(str(item.value))
    return assumed_words(item).replace("_", " ")


def _named(pointer: str) -> tuple[str, str]:
    """A place in the request as field and owner, in words."""
    parts = [part.replace("~1", "/").replace("~0", "~") for part in pointer.strip("/").split("/")]
    named = parts[0] in {"meters", "load_states"} and len(parts) > 2  # noqa: PLR2004
    own = parts[2:] if named or parts[0] == "readings" else parts[1:]
    words = [str(int(part) + 1) if part.isdigit() else part.replace("_", " ") for part in own]
    field = " ".join(words) or parts[0].replace("_", " ")
    owner = parts[1] if named else parts[0].replace("_", " ")
    if parts[0] == "readings" and len(parts) > 1 and parts[1].isdigit():
        owner = str(int(parts[1]) + 1)
    return _FIELDS.get(field, field), owner


def _of(owners: Sequence[str]) -> str:
    named = [*dict.fromkeys(owner for owner in owners if owner)]
    if named and all(name.isdigit() for name in named):
        return f"reading{'s' if len(named) > 1 else ''} {_ranges([int(name) for name in named])}"
    return joined(named)


def _ranges(numbers: Sequence[int]) -> str:
    """Numbers in rising order, neighbors as a range: "1 to 3, 7"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)
