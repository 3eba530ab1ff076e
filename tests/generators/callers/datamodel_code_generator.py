"""An invented visit by the models that datamodel-code-generator makes. Prints what the tests compare."""

import json
import sys

import httpx
from models import Assessment, AssessmentRequest, Meter, Problem, Reading, Screen, VoltageReading, Voltmeter

visit = AssessmentRequest(
    reference="INVENTED/cabin-12",
    meters={"loz": Meter(Voltmeter(kind="voltmeter", input_impedance="3 kohm"))},
    observations=["other_circuits_live"],
    readings=[
        Reading(
            VoltageReading(kind="voltage", between=between, value=value, meter="loz", load_state="disconnected", id=own)
        )
        for between, value, own in ((["L1", "L2"], "247 V", "legs"), (["L1", "N"], 7.0, None), (["L2", "N"], 7.0, None))
    ],
)
body = visit.model_dump_json(exclude_none=True)
whole = Assessment.model_validate_json(httpx.post(f"{sys.argv[1]}/v1/assessments", content=body, headers={
    "Content-Type": "application/json"}).content)  # fmt: skip
screen = Screen.model_validate_json(httpx.post(f"{sys.argv[1]}/v1/assessments/screen", content=body, headers={
    "Content-Type": "application/json"}).content)  # fmt: skip
problem = Problem.model_validate_json(
    httpx.post(f"{sys.argv[1]}/v1/assessments", json={"readings": [{"kind": "smell"}]}).content
)


def plain(word):
    """Text of a word, which the generator wraps in a type of its own."""
    return getattr(word, "root", word)


print(
    json.dumps(
        {
            "fault": plain(whole.finding.fault),
            "conductor": plain(whole.finding.conductor),
            "determination": plain(whole.determination),
            "first_id": whole.evidence[0].id,
            "headline": screen.headline,
            "refused": [[fault.pointer, plain(fault.code)] for fault in problem.errors],
        }
    )
)
