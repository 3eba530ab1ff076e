"""What every whole answer has beside its fields."""

from msgspec import Struct


class Answer(Struct, frozen=True, kw_only=True, dict=True):
    """A whole answer of the service."""

    @property
    def request_id(self) -> str | None:
        """Id of its request in the service's log; None: it came by another way. No part of its value."""
        found: str | None = vars(self).get("request_id")
        return found
