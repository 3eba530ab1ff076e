"""The back end of a field-service form: what the technician typed goes in, what the form shows comes out.

Run it beside a service: `feedproof serve`, then `python examples/field_service_form.py`. All data is invented.
"""

import re
from typing import Literal, NamedTuple

from feedproof_sdk import Assessment, Client, Visit, Voltmeter, errors
from feedproof_sdk.names import Severity

Pair = tuple[Literal["L1", "L2"], Literal["L2", "N"]]
BOXES: dict[str, Pair] = {"L1-L2": ("L1", "L2"), "L1-N": ("L1", "N"), "L2-N": ("L2", "N")}
"""The form's boxes for voltages, and the conductors that each is about."""


class Reply(NamedTuple):
    """What the form shows, and the note that it files with the job."""

    headline: str
    warnings: list[str]
    next_step: str | None
    beside: dict[str, str]
    """What is wrong with a box, by its name; the empty name is the whole form."""
    note: str | None = None
    """The hand-off note for the electrician, the customer and the office."""


def typed(text: str) -> float | str:
    """Take a bare number as one in the unit that the form prints beside the box; leave all else to the service."""
    try:
        return float(text)
    except ValueError:
        return text


def read_form(form: dict[str, str]) -> tuple[Visit, list[str]]:
    """Write the form down as a visit; also give the box of each reading, in the readings' order."""
    visit = Visit(form["job"])
    meter = visit.meter("the technician's", Voltmeter(input_impedance=typed(form["input impedance"])))
    state = visit.idle() if form["plugged in"] == "yes" else visit.disconnected()
    filled = [box for box in BOXES if form.get(box)]
    for box in filled:
        state.voltage(*BOXES[box], typed(form[box]), meter)
    return visit, filled


def place(pointer: str, filled: list[str]) -> str:
    """Find the box that a fault of the request is about."""
    if reading := re.match(r"/readings/(\d+)/", pointer):
        return filled[int(reading[1])]
    return "input impedance" if pointer.endswith("/input_impedance") else ""


def reply_to(answer: Assessment) -> Reply:
    """Say what the answer means for the person before the appliance."""
    first = answer.next_readings[0] if answer.next_readings else None
    step = None
    if first is not None:
        step = f"{first.title} ({first.why})" + "".join(f" ({hazard.text})" for hazard in first.hazards)
    # Every caution, in the order that the service ranks them.
    warnings = [f"{caution.severity.upper()}: {caution.title}. {caution.text}" for caution in answer.cautions]
    # The service's own words: whatever a later one answers, nothing here makes an all-clear of it.
    return Reply(f"{answer.headline.rstrip('.')}. {answer.next_action}", warnings, step, {})


def handle(client: Client, form: dict[str, str]) -> Reply:
    """Answer one submission."""
    visit, filled = read_form(form)
    try:
        return reply_to(client.assess(visit))._replace(note=client.render(visit, "html").text)
    except errors.InvalidReadingSet as refused:
        beside = {place(fault.pointer, filled): fault.detail for fault in refused.errors}
        return Reply("Please mend what is marked.", [], None, beside)
    except (errors.NoAnswer, errors.ServiceFailed):
        # Nothing may be concluded, so the form says nothing of the supply.
        return Reply("No answer now. Treat every conductor as live, and try again.", [], None, {})


SUBMISSIONS = [
    {
        "job": "INVENTED lakeside campground, cabin 12, range",
        "input impedance": "3 kohm", "plugged in": "no", "L1-L2": "247 V", "L1-N": "7 V", "L2-N": "7 V",
    },
    {
        "job": "INVENTED lakeside campground, cabin 3, dryer",
        "input impedance": "ten", "plugged in": "yes", "L1-L2": "243", "L1-N": "121 A", "L2-N": "",
    },
]  # fmt: skip


def main() -> None:
    """Answer two submissions, the second one mistyped."""
    with Client(timeout=10.0) as client:
        for form in SUBMISSIONS:
            reply = handle(client, form)
            print(f"{form['job']}\n  {reply.headline}")
            for box, fault in reply.beside.items():
                print(f"  [{box or 'form'}] {fault}")
            grave = [text for text in reply.warnings if text.startswith(Severity.DANGER.upper())]
            print(*(f"  {text}" for text in grave or reply.warnings[:3]), sep="\n", end="\n" if reply.warnings else "")
            if reply.note:
                print(f"  (a note of {len(reply.note)} characters goes to the job)")
            if reply.next_step:
                print(f"  Next: {reply.next_step}")


if __name__ == "__main__":
    main()
