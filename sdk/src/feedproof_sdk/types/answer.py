"""What every whole answer has beside its fields."""

from collections.abc import Mapping

from msgspec import Struct


class Response(Struct, frozen=True):
    """An answer as it came."""

    status: int
    headers: Mapping[str, str]
    """Names in any case."""
    content: bytes
    """After content decoding; of a batch, the line."""
    attempts: int
    """How many it took, this one included."""


class Answer(Struct, frozen=True, kw_only=True, dict=True):
    """A whole answer of the service."""

    @property
    def response(self) -> Response:
        """The answer as it came: status, headers, content, attempts. No part of its value: it does not travel."""
        try:
            found: Response = vars(self)["response"]
        except KeyError:
            raise AttributeError("response: this answer was made from elsewhere, not by a client") from None
        return found

    @property
    def request_id(self) -> str | None:
        """Id of its request in the service's log; None: it was made from elsewhere."""
        return self.response.headers.get("request-id") if "response" in vars(self) else None


class Note(Answer, frozen=True, kw_only=False):
    """An answer in a form for people."""

    content: bytes

    @property
    def text(self) -> str:
        """The same as text; a PDF is none."""
        return self.content.decode()
