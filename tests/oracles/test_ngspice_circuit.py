"""The reference solver against ngspice, a general-purpose circuit simulator.

ngspice works in double precision with an admittance matrix, so a difference of two nodes at 120 V carries some tenths
of a nanovolt of its own rounding. Hence: a relative 1e-6, or 1 nV where that is more (readings under a millivolt).
"""

import pytest

from support import ngspice_oracle
from support.random_networks import METER_IMPEDANCES, readable_pairs, split_phase_network
from support.solver import branch_current, driving_point_impedance, thevenins, voltmeter_reading

SEEDS = range(48)
RELATIVE = 1e-6
NANOVOLT = 1e-9
TENTH_PICOAMPERE = 1e-13  # what rounding leaves of currents that reach 100 A elsewhere in the same circuit


@pytest.mark.parametrize("seed", SEEDS)
def test_every_voltmeter_connected_alone_reads_the_same(seed: int) -> None:
    network = split_phase_network(seed)
    pairs = readable_pairs()
    sources = dict(zip(pairs, thevenins(network, pairs), strict=True))
    probes = [ngspice_oracle.VoltmeterProbe(pair, meter) for pair in pairs for meter in METER_IMPEDANCES]
    for probe, judged in zip(probes, ngspice_oracle.voltmeter_readings(network, probes), strict=True):
        ours = voltmeter_reading(sources[probe.pair], probe.impedance)
        assert ours == pytest.approx(judged, rel=RELATIVE, abs=NANOVOLT), probe


@pytest.mark.parametrize("seed", range(100, 108))
def test_branch_currents_are_the_same(seed: int) -> None:
    network = split_phase_network(seed)
    for position in range(0, len(network.branches), 3):
        judged = ngspice_oracle.branch_current(network, position)
        assert abs(branch_current(network, position)) == pytest.approx(judged, rel=RELATIVE, abs=TENTH_PICOAMPERE)


@pytest.mark.parametrize("isolated", [True, False], ids=["isolated", "shorted"])
@pytest.mark.parametrize("seed", range(200, 208))
def test_the_dead_network_has_the_same_resistance(seed: int, isolated: bool) -> None:
    network = split_phase_network(seed)
    pairs = readable_pairs()
    judged = ngspice_oracle.driving_point_impedances(network, pairs, isolated=isolated)
    for pair, expected in zip(pairs, judged, strict=True):
        ours = driving_point_impedance(network, pair, "isolated" if isolated else "shorted")
        assert ours == pytest.approx(expected, rel=RELATIVE)


def test_the_networks_cover_what_they_claim() -> None:
    admittances = [abs(b.admittance) for seed in SEEDS for b in split_phase_network(seed).branches]
    assert max(admittances) > 500.0  # joints of some milliohm
    assert min(admittances) < 1e-9  # gigaohm, picofarad
    readings = [
        voltmeter_reading(source, 3e3)
        for seed in SEEDS
        for source in thevenins(split_phase_network(seed), readable_pairs())
    ]
    assert sum(reading > 200.0 for reading in readings) > 20
    assert sum(reading < 1.0 for reading in readings) > 20


def test_a_wrong_solver_would_be_caught() -> None:
    """The control: all meters connected at once gives other readings, by far more than the tolerance."""
    network = split_phase_network(2)
    pairs = readable_pairs()[:6]
    ignoring = [abs(source.voltage) for source in thevenins(network, pairs)]
    judged = ngspice_oracle.voltmeter_readings(network, [ngspice_oracle.VoltmeterProbe(p, 3e3) for p in pairs])
    assert any(abs(a - b) > 1e-4 * b for a, b in zip(ignoring, judged, strict=True))
