"""Trace ids after W3C Trace Context, 3.2."""

from uuid import UUID

import pytest

from feedproof.telemetry.tracing import start_trace

# The example of the recommendation, section 3.2.3.
GIVEN = b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"


def test_a_valid_trace_is_passed_on_under_a_span_of_our_own() -> None:
    trace = start_trace(GIVEN)
    assert trace.trace_id == "4bf92f3577b34da6a3ce929d0e0e4736"
    assert trace.span_id != "00f067aa0ba902b7"
    assert trace.traceparent == f"00-4bf92f3577b34da6a3ce929d0e0e4736-{trace.span_id}-01"


@pytest.mark.parametrize(
    "header",
    [
        None,
        b"",
        b"00-00000000000000000000000000000000-00f067aa0ba902b7-01",
        b"00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
        b"ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
        b"00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
        GIVEN + b"-more",
        GIVEN[:-1],
        b"\xff" * 55,
    ],
)
def test_an_invalid_one_starts_a_new_trace(header: bytes | None) -> None:
    first, second = start_trace(header), start_trace(header)
    assert first.trace_id != second.trace_id
    assert int(first.trace_id, 16) > 0
    assert first.flags == "00"


def test_a_later_version_may_carry_more() -> None:
    assert start_trace(b"01" + GIVEN[2:] + b"-more").trace_id == "4bf92f3577b34da6a3ce929d0e0e4736"


def test_every_request_has_an_id_of_its_own() -> None:
    ids = {start_trace(GIVEN).request_id for _ in range(100)}
    assert len(ids) == 100
    assert all(UUID(request_id).version == 4 for request_id in ids)
