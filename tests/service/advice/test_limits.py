from feedproof.advice.limits import test_current as drawn_current
from feedproof.advice.limits import to_wire
from feedproof.inference import Limit
from support.outcomes import readings, speaking, volts

TAKEN = readings(volts("L1", "N", 120.0, "loz"), volts("L2", "N", 119.0, "loz"), volts("L1", "L2", 243.0)).readings
EVIDENCE = (
    speaking(0, 0.0, 120.0, test_current=0.0400),
    speaking(1, 0.0, 119.0, test_current=0.0397),
    speaking(2, 0.0, 243.0),
)


def meaning(resistance: float | None, conductor: str = "G") -> str:
    return to_wire(Limit(conductor=conductor, resistance=resistance), EVIDENCE, TAKEN).meaning  # type: ignore[arg-type]


def test_a_limit_in_words() -> None:
    assert meaning(None) == "These readings say nothing of the ground: even an open one would not have shown."
    assert meaning(2.34) == "The ground: less than about 2.34 Ω in series would not have shown in these readings."
    assert meaning(9.0e3) == "The ground may be open: up to about 9 kΩ in series would not have shown."
    assert meaning(1.0e6) == "The ground may be as good as open: only a clean break would have shown."


def test_before_any_reading_nothing_would_show() -> None:
    words = to_wire(Limit(conductor="L1", resistance=None), (), ()).meaning
    assert words == "Nothing has been read yet: even if leg L1 were open, nothing would show it."


def test_the_largest_test_current_is_named_with_its_pair() -> None:
    assert meaning(260.0, "N").endswith("The low-impedance meter drew 40 mA (L1 to neutral).")
    assert meaning(260.0, "L2").endswith("The low-impedance meter drew 39.7 mA (L2 to neutral).")


def test_no_current_without_a_low_impedance_reading() -> None:
    assert drawn_current("N", EVIDENCE[2:], TAKEN) is None
    assert drawn_current("G", EVIDENCE, TAKEN) is None


def test_value_and_unit_go_through() -> None:
    entry = to_wire(Limit(conductor="N", resistance=260.0), EVIDENCE, TAKEN)
    assert (entry.conductor, entry.value, entry.unit) == ("N", 260.0, "ohm")
