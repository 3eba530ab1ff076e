"""A manufacturer's support tool: may a control board be shipped, or is the supply to be proven first.

Run it beside a service: `python examples/ship_board_or_not.py [REQUEST.json ...]`; without names it goes through the
shipped requests. Three answers: SHIP, HOLD (the supply first), ASK (one more reading). All data is invented.
"""

import sys
from pathlib import Path

from feedproof_sdk import Assessment, Client, errors
from feedproof_sdk.names import Disposition
from feedproof_sdk.types.assessment import NextReading

REQUESTS = Path(__file__).resolve().parent / "requests"
WORST_HIDDEN = 100.0
"""House rule of this invented manufacturer: no board goes out while more than this could hide in a conductor [ohm]."""


def hidden(answer: Assessment) -> str | None:
    """Say what could still hide behind the readings, where it is more than the house rule lets pass."""
    for limit in answer.detection_limits:
        if limit.conductor != "G" and (limit.value is None or limit.value > WORST_HIDDEN):
            return limit.meaning
    return None


def ask_for(reading: NextReading) -> str:
    """Put a next reading into a sentence for the telephone."""
    return " ".join([f"{reading.title}.", *(hazard.text for hazard in reading.hazards)])


def decide(answer: Assessment) -> tuple[str, str]:
    """Decide, and say why."""
    if answer.disposition == Disposition.STOP_AND_REFER:
        found = answer.finding
        return "HOLD", f"{found.fault} ({found.conductor or 'no one conductor'}), {answer.determination}: supply first"
    open_point = hidden(answer)
    if answer.disposition == Disposition.NO_SUPPLY_FAULT_FOUND and open_point is None:
        return "SHIP", "no fault of the supply was found, and an open conductor would have shown in these readings"
    if answer.next_readings:
        return "ASK", ask_for(answer.next_readings[0])
    return "HOLD", open_point or "the readings do not decide, and no further one would"


def main() -> int:
    """Decide for each request."""
    paths = [Path(name) for name in sys.argv[1:]] or sorted(REQUESTS.glob("*.json"))
    status = 0
    with Client() as client:
        for path in paths:
            try:
                answer = client.assess(path.read_bytes())
            except errors.Refused as refused:
                print(f"{path.stem}: not decided\n  {refused}")
                status = 1
                continue
            verdict, why = decide(answer)
            print(f"{path.stem}: {verdict}\n  {why}")
            for caution in answer.cautions:
                print(f"  {caution.severity}: {caution.text}")
    return status


if __name__ == "__main__":
    sys.exit(main())
