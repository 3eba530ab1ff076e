"""Typed Python client of the feedproof service.

>>> from feedproof_sdk import Visit
>>> visit = Visit("cabin-12/range")
>>> loz = visit.voltmeter("loz", input_impedance="3 kohm")
>>> unplugged = visit.disconnected()
>>> _ = unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", "7 V", loz).voltage("L2", "N", "7 V", loz)

and then `Client().assess(visit)`. `types` has every type that goes over the wire, `names` the words of answers,
`errors` all that is raised, `calls` each call as a value.
"""

from typing import TYPE_CHECKING

from feedproof_sdk import calls, errors, names, types
from feedproof_sdk._answers import RawResponse
from feedproof_sdk._async_client import AsyncClient
from feedproof_sdk._batch import Failure
from feedproof_sdk._client import Client
from feedproof_sdk._settings import Limits, Retries, Timeouts
from feedproof_sdk.calls import ReadingSetLike
from feedproof_sdk.errors import FeedproofError
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.request import Load, ReadingSet
from feedproof_sdk.visit import Visit, load, simulated

if TYPE_CHECKING:
    from feedproof_sdk._transport import AsyncTransport, Transport

__version__: str

__all__ = [
    "Assessment",
    "AsyncClient",
    "AsyncTransport",
    "Client",
    "Failure",
    "FeedproofError",
    "Limits",
    "Load",
    "RawResponse",
    "ReadingSet",
    "ReadingSetLike",
    "Retries",
    "Timeouts",
    "Transport",
    "Visit",
    "__version__",
    "calls",
    "errors",
    "load",
    "names",
    "simulated",
    "types",
]


def __getattr__(name: str) -> object:
    """Load what takes long when it is asked for."""
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415

        return version("feedproof-sdk")
    if name in {"AsyncTransport", "Transport"}:
        from feedproof_sdk import _transport  # noqa: PLC0415

        return getattr(_transport, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
