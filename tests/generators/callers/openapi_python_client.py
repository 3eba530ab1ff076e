"""An invented visit by the client that openapi-python-client makes. Prints what the tests compare."""

import json
import sys

from feedproof_client import Client
from feedproof_client.api.assessments import assess, assess_for_screen
from feedproof_client.models import Assessment, AssessmentRequest, Problem, Screen

GIVEN = {
    "reference": "INVENTED/cabin-12",
    "meters": {"loz": {"kind": "voltmeter", "input_impedance": "3 kohm"}},
    "observations": ["other_circuits_live"],
    "readings": [
        {"kind": "voltage", "between": ["L1", "L2"], "value": "247 V", "meter": "loz", "load_state": "disconnected",
         "id": "legs"},
        {"kind": "voltage", "between": ["L1", "N"], "value": 7.0, "meter": "loz", "load_state": "disconnected"},
        {"kind": "voltage", "between": ["L2", "N"], "value": "7 V", "meter": "loz", "load_state": "disconnected"},
    ],
}  # fmt: skip
WRONG = {**GIVEN, "readings": [{**GIVEN["readings"][0], "value": "5 A"}]}

with Client(base_url=sys.argv[1]) as client:
    whole = assess.sync(client=client, body=AssessmentRequest.from_dict(GIVEN))
    screen = assess_for_screen.sync(client=client, body=AssessmentRequest.from_dict(GIVEN))
    problem = assess.sync(client=client, body=AssessmentRequest.from_dict(WRONG))
assert isinstance(whole, Assessment), whole
assert isinstance(screen, Screen), screen
assert isinstance(problem, Problem), problem

print(
    json.dumps(
        {
            "fault": whole.finding.fault,
            "conductor": whole.finding.conductor,
            "determination": whole.determination,
            "first_id": whole.evidence[0].id,
            "headline": screen.headline,
            "refused": [[fault.pointer, fault.code] for fault in problem.errors],
        }
    )
)
