"""An invented visit by the client that openapi-generator makes for Python. Prints what the tests compare."""

import json
import sys

import openapi_client as client

visit = client.AssessmentRequest.from_dict(
    {
        "reference": "INVENTED/cabin-12",
        "meters": {"loz": {"kind": "voltmeter", "input_impedance": "3 kohm"}},
        "observations": ["other_circuits_live"],
        "readings": [
            {"kind": "voltage", "between": ["L1", "L2"], "value": "247 V", "meter": "loz", "load_state": "disconnected",
             "id": "legs"},
            {"kind": "voltage", "between": ["L1", "N"], "value": 7.0, "meter": "loz", "load_state": "disconnected"},
            {"kind": "voltage", "between": ["L2", "N"], "value": "7 V", "meter": "loz", "load_state": "disconnected"},
        ],
    }
)  # fmt: skip
wrong = client.AssessmentRequest(
    meters={"loz": client.Meter(client.Voltmeter(kind="voltmeter"))},
    readings=[
        client.Reading(
            client.VoltageReading(
                kind="voltage", between=["L1", "L2"], value=client.ReadVoltage("247 V"), meter="gone",
                load_state="disconnected",
            )
        )
    ],
)  # fmt: skip
with client.ApiClient(client.Configuration(host=sys.argv[1])) as connection:
    api = client.AssessmentsApi(connection)
    whole = api.assess(visit)
    screen = api.assess_for_screen(visit)
    # The generated client reads no lines of JSON by itself; unread, it gives them as they come.
    lines = api.assess_batch_without_preload_content(json.dumps({"readings": []}) + "\n").read()
    try:
        api.assess(wrong)
        refused = None
    except client.ApiException as error:
        refused = [[fault["pointer"], fault["code"]] for fault in json.loads(error.body)["errors"]]

print(
    json.dumps(
        {
            "fault": whole.finding.fault,
            "conductor": whole.finding.conductor,
            "determination": whole.determination,
            "first_id": whole.evidence[0].id,
            "headline": screen.headline,
            "lines": len(lines.splitlines()),
            "refused": refused,
        }
    )
)
