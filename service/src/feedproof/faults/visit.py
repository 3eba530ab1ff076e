"""What the places of a visit depend on."""

from msgspec import Struct

from feedproof.faults.places import Section
from feedproof.readings import Supply


class Visit(Struct, frozen=True, kw_only=True):
    """One arrangement, as far as it decides which places there are."""

    supply: Supply
    rate: dict[str, float]
    """Base rate of every fault [1]."""
    at_terminals: bool
    """Something was read at the appliance's terminals."""
    meters: tuple[tuple[int, bool], ...]
    """Every voltmeter by its number, and whether it was proved."""
    idle: bool
    """Some load state has an appliance that is connected and not started."""
    edge: float
    """Extra resistance from which on a branch conductor counts as faulty [ohm]."""

    @property
    def grounded(self) -> bool:
        """Whether there is an equipment ground."""
        return self.supply.equipment_ground != "absent"

    @property
    def strapped(self) -> bool:
        """Whether neutral and ground are said to be joined in the appliance, though it has a ground of its own."""
        return bool(self.supply.frame_bonded_to_neutral) and self.supply.equipment_ground == "present"

    @property
    def feeder(self) -> bool:
        """Whether there may be a sub-panel."""
        return self.supply.fed_from != "service_panel"

    @property
    def each_leg(self) -> float:
        """Share of a fault that may sit on either leg [1]."""
        return 1.0 / len(self.supply.legs)

    def in_sections(self, shares: dict[Section, float]) -> dict[Section, float]:
        """Shares of the sections there are [1]: one that no reading could see gives its own to the others."""
        there = {
            s: v for s, v in shares.items() if (s != "feeder" or self.feeder) and (s != "cord" or self.at_terminals)
        }
        total = sum(there.values())
        return {s: v / total for s, v in there.items()}
