"""Steps of a reading: in order, by appliance, and nothing that a caution forbids."""

import msgspec
import pytest

from feedproof.advice.how import steps
from feedproof.readings import ReadingSet, Supply
from support.outcomes import prospect, readings, volts

UNPLUGGED = readings(volts("L1", "L2", 242.0))


def told(**fields: object) -> list[str]:
    visit = fields.pop("visit", UNPLUGGED)
    assert isinstance(visit, ReadingSet)
    return steps(prospect(**fields), visit, "loz")  # type: ignore[arg-type]


@pytest.mark.parametrize("state", ["idle", "heating"])
def test_plugging_in_is_done_with_the_breaker_off(state: str) -> None:
    plugging = next(step for step in told(state=state, point="appliance_terminals") if "plug it in" in step)
    assert plugging.index("breaker off") < plugging.index("plug it in") < plugging.index("breaker on")


def test_unplugging_is_done_with_the_breaker_off() -> None:
    running = readings(volts("L1", "L2", 242.0, state="heating"))
    first = told(state="disconnected", visit=running)[0]
    assert first.index("breaker off") < first.index("unplug") < first.index("breaker on")
    assert told(state="disconnected")[0] == "Leave the appliance disconnected."


def test_a_hardwired_appliance_is_not_unplugged() -> None:
    wired = msgspec.structs.replace(UNPLUGGED, supply=Supply(receptacle="hardwired"))
    assert not any("plug it in" in step for step in told(state="heating", visit=wired))


def test_how_the_load_is_switched_on_goes_by_appliance() -> None:
    dryer = msgspec.structs.replace(UNPLUGGED, appliance="dryer")
    assert any("hottest" in step for step in told(state="heating", visit=dryer))
    assert any("full current" in step for step in told(state="heating"))


def test_nothing_is_started_before_all_that_has_to_be_opened_is_open() -> None:
    found = told(state="heating", point="appliance_terminals")
    assert found.index(next(s for s in found if "cover" in s)) < found.index(
        next(s for s in found if "full current" in s)
    )


def test_a_known_load_at_the_terminals_leaves_the_plug_in() -> None:
    """Unplugged, the terminals would be dead whatever the supply does."""
    at_terminals = msgspec.structs.replace(prospect(point="appliance_terminals"), load_state_kind="test_load")
    found = steps(at_terminals, UNPLUGGED, "loz")
    assert not any("unplug the appliance" in step for step in found)
    assert found[-3].startswith("Breaker on")
    assert "show that it is dead" in " ".join(found[:-3])
    at_panel = msgspec.structs.replace(at_terminals, point="service_panel")
    assert any("unplug the appliance" in step for step in steps(at_panel, UNPLUGGED, "loz"))


def test_an_ohmmeter_comes_after_isolation_and_proof() -> None:
    found = told(kind="resistance", conductors=("N", "G"), meter_kind="ohmmeter", state="disconnected")
    assert "lock it" in found[0]
    assert "dead" in found[1]
    assert found.index(next(s for s in found if "ohms" in s)) > 1


@pytest.mark.parametrize(
    ("point", "words"),
    [("service_panel", "neutral bar"), ("receptacle", "neutral contact"), ("appliance_terminals", "terminal of")],
)
def test_where_the_probes_go(point: str, words: str) -> None:
    assert any(words in step for step in told(point=point, state="disconnected"))


def test_the_meters_function_is_named() -> None:
    assert any("low impedance" in step for step in told())
    clamp = told(kind="current", conductors=("G",), meter_kind="clamp_ammeter", state="heating")
    assert any("AC amperes" in step and "alone" in step for step in clamp)
    assert any("again" in step for step in told(repeats=0))
