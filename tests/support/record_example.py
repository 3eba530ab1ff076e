"""Record the answer that the published document shows: `python tests/support/record_example.py`.

To be run after a change of the model that changes the finding, the cautions or the form of the answer; then
`feedproof openapi --write openapi/openapi.json`.
"""

from pathlib import Path

import msgspec

from feedproof.api.openapi import EXAMPLES
from feedproof.assess import assess
from feedproof.parsing import read_request

TARGET = Path(__file__).resolve().parents[2] / "service" / "src" / "feedproof" / "api" / "data" / "assessment.json"


def main() -> None:
    """Assess the first example and write the answer."""
    request = EXAMPLES["requests"]["low_impedance"]["value"]
    assessment = assess(*read_request(msgspec.json.encode(request)))
    TARGET.write_bytes(msgspec.json.format(msgspec.json.encode(assessment)) + b"\n")


if __name__ == "__main__":
    main()
