"""Request and trace ids.

References
----------
W3C Trace Context, section 3.2 (`traceparent`): version, trace-id, parent-id, flags; all-zero ids are invalid.
"""

import re
import secrets
from typing import NamedTuple
from uuid import UUID

_TRACEPARENT = re.compile(rb"([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")


class Trace(NamedTuple):
    """Ids of one request."""

    request_id: str
    """Of this request alone: a random UUID."""
    trace_id: str
    """Of the caller's trace, or a new one."""
    span_id: str
    """Of this service's part of it."""
    flags: str
    parent_id: str = ""
    """Of the caller's part of it, where there is one."""

    @property
    def traceparent(self) -> str:
        """As a header of the answer."""
        return f"00-{self.trace_id}-{self.span_id}-{self.flags}"


def start_trace(traceparent: bytes | None) -> Trace:
    """Continue the caller's trace, or start one where its header is missing or invalid.

    Parameters
    ----------
    traceparent : bytes or None
        The request's `traceparent` header.
    """
    entropy = secrets.token_bytes(24)
    request_id = str(UUID(bytes=entropy[:16], version=4))
    span_id = entropy[16:].hex()
    if traceparent is not None and (found := _TRACEPARENT.fullmatch(traceparent)):
        version, trace_id, parent_id, flags, rest = (
            part.decode("ascii", "replace") if part else "" for part in found.groups()
        )
        usable = version != "ff" and (version != "00" or not rest)
        if usable and int(trace_id, 16) and int(parent_id, 16):
            return Trace(request_id, trace_id, span_id, flags, parent_id)
    return Trace(request_id, secrets.token_hex(16), span_id, "00")
