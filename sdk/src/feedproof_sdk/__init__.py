"""Typed Python client of the feedproof service.

>>> from feedproof_sdk import Visit, Voltmeter
>>> visit = Visit("cabin-12/range")
>>> loz = visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
>>> unplugged = visit.disconnected()
>>> _ = unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", "7 V", loz).voltage("L2", "N", "7 V", loz)

and then `Client().assess(visit)`. `types` has every type that goes over the wire, `names` the words of answers,
`errors` all that is raised.
"""

from typing import TYPE_CHECKING

from feedproof_sdk import errors, names, types
from feedproof_sdk._batch import Failure
from feedproof_sdk._client import Client
from feedproof_sdk._quantities import quantity
from feedproof_sdk._requests import ReadingSetLike
from feedproof_sdk._settings import Options, Retry
from feedproof_sdk.errors import FeedproofError
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.request import (
    ClampAmmeter,
    Load,
    Ohmmeter,
    ProximityDetector,
    ReadingSet,
    Run,
    Supply,
    VisitDetails,
    Voltmeter,
)
from feedproof_sdk.visit import Visit, simulated

if TYPE_CHECKING:
    from feedproof_sdk._async_client import AsyncClient

__version__: str

__all__ = [
    "Assessment", "AsyncClient", "ClampAmmeter", "Client", "Failure", "FeedproofError", "Load", "Ohmmeter",
    "Options", "ProximityDetector", "ReadingSet", "ReadingSetLike", "Retry", "Run", "Supply", "Visit", "VisitDetails",
    "Voltmeter", "__version__", "errors", "names", "quantity", "simulated", "types",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Load what takes long when it is asked for."""
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415

        return version("feedproof-sdk")
    if name == "AsyncClient":
        from feedproof_sdk._async_client import AsyncClient  # noqa: PLC0415

        return AsyncClient
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
