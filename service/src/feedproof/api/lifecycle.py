"""How an operation is announced to go away. Nothing in v1 is deprecated; this is what v2 will use.

References
----------
RFC 9745 (Deprecation: a structured date), RFC 8594 (Sunset: an HTTP date; Link relations).
"""

from collections.abc import Mapping
from datetime import datetime
from email.utils import format_datetime

from msgspec import Struct

KEY = "lifecycle"
"""Under which a handler's `opt` holds its lifecycle."""


class Lifecycle(Struct, frozen=True, kw_only=True):
    """Since when an operation is deprecated, until when it answers, and where to read what to use."""

    deprecated: datetime
    """With a time zone."""
    sunset: datetime
    """With the time zone UTC."""
    guide: str
    """Address of the page that says what to use in its place."""

    def headers(self) -> dict[str, str]:
        """Headers of every answer of the operation."""
        return {
            "Deprecation": f"@{int(self.deprecated.timestamp())}",
            "Sunset": format_datetime(self.sunset, usegmt=True),
            "Link": f'<{self.guide}>; rel="deprecation"; type="text/html", <{self.guide}>; rel="sunset"',
        }


def lifecycle_of(scope: Mapping[str, object]) -> Lifecycle | None:
    """Lifecycle of the operation that answers, where it has one."""
    handler = scope.get("route_handler")
    found = getattr(handler, "opt", {}).get(KEY)
    return found if isinstance(found, Lifecycle) else None
