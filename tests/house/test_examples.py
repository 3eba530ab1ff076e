"""The shipped requests are invented, and say so."""

import json
import re
from pathlib import Path


def test_every_request_says_that_it_is_invented(example_requests: dict[str, bytes]) -> None:
    assert len(example_requests) >= 6
    for name, body in example_requests.items():
        assert json.loads(body)["reference"].startswith("INVENTED lakeside campground"), name


def test_the_list_beside_them_names_each(root: Path, example_requests: dict[str, bytes]) -> None:
    text = (root / "examples" / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `requests/(\w+)\.json`", text, re.MULTILINE)) == set(example_requests)
