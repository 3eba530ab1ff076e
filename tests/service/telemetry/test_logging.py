"""What an error and another library's line look like in the log: where and what kind, never a value."""

import json
import logging

import pytest

from feedproof.telemetry.logging import configure, logger


def test_an_error_is_told_by_kind_and_place_and_never_by_its_words(capsys: pytest.CaptureFixture[str]) -> None:
    configure("json", "info")

    def fail() -> None:
        reading = "SECRET 241.37 V"
        try:
            dict[str, str]()[reading]
        except KeyError as error:
            raise ValueError(f"cannot take {reading}") from error

    try:
        fail()
    except ValueError:
        logger().exception("failure", request_id="r")
    written = capsys.readouterr().err
    line = json.loads(written)
    assert line["error"] == "builtins.ValueError"
    assert line["caused_by"] == "builtins.KeyError"
    assert line["places"][-1].endswith(" fail")
    assert "test_logging.py:" in line["places"][-1]
    assert "SECRET" not in written
    assert "241.37" not in written


def test_other_libraries_are_told_in_the_same_form(capsys: pytest.CaptureFixture[str]) -> None:
    configure("json", "info")
    logging.getLogger("uvicorn.error").warning("something %s", "odd")
    logging.getLogger("uvicorn.error").info("chatter")
    try:
        int("SECRET")
    except ValueError as error:
        logging.getLogger("uvicorn.error").error("failed %s", "SECRET", exc_info=error)  # noqa: TRY400
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert [(line["level"], line["said"]) for line in lines] == [("warning", "something odd"), ("error", "failed %s")]
    assert lines[1]["error"] == "builtins.ValueError"
    assert "SECRET" not in json.dumps(lines)


def test_a_person_gets_text_and_a_program_json(capsys: pytest.CaptureFixture[str]) -> None:
    configure("console", "info")
    logger().info("hello", port=1)
    assert "port=1" in capsys.readouterr().err
    configure("auto", "info")
    logger().info("hello", port=1)
    assert json.loads(capsys.readouterr().err)["port"] == 1
    configure("json", "error")
    logger().info("hello")
    assert capsys.readouterr().err == ""
