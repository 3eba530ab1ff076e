"""Who may call, and how often. Both are off unless they are set.

References
----------
RFC 9110, HTTP Semantics, 11.6.1 (WWW-Authenticate), 10.2.3 (Retry-After). RFC 6750 (Bearer). RFC 6585, 4 (429).
"""

import hashlib
import hmac
import math
import time
from collections import OrderedDict

from litestar.connection import ASGIConnection
from litestar.exceptions import HTTPException
from litestar.handlers.base import BaseRouteHandler

_CALLERS_KEPT = 10_000
_SCHEME = "bearer "

Connection = ASGIConnection[BaseRouteHandler, object, object, object]  # type: ignore[type-var]


class Gate:
    """Checks keys and counts requests.

    Parameters
    ----------
    digests : tuple of str
        SHA-256 of each key that may call, hexadecimal; empty: anybody may.
    rate : float
        Requests per second that one caller may send in the long run; 0: any number [1/s].
    burst : int
        Requests that it may send at once.
    """

    def __init__(self, digests: tuple[str, ...], rate: float, burst: int) -> None:
        self._digests = tuple(digest.lower().encode("ascii") for digest in digests)
        self._rate = rate
        self._burst = burst
        self._buckets: OrderedDict[bytes, tuple[float, float]] = OrderedDict()

    def identify(self, connection: Connection) -> bytes:
        """Tell who calls: the digest of the key, or the address where keys are not asked for.

        Raises
        ------
        HTTPException
            401 where a key is asked for and none that is known was sent.
        """
        if not self._digests:
            return (connection.client.host if connection.client else "").encode()
        authorization = connection.headers.get("authorization", "")
        bearer = authorization[len(_SCHEME) :].strip() if authorization.lower().startswith(_SCHEME) else ""
        key = bearer or connection.headers.get("api-key", "")
        digest = hashlib.sha256(key.encode("utf-8", "replace")).hexdigest().encode("ascii")
        known = [hmac.compare_digest(digest, other) for other in self._digests]
        if not any(known):
            raise HTTPException(
                status_code=401,
                detail="send a known key, as Authorization: Bearer or as Api-Key",
                headers={"WWW-Authenticate": 'Bearer realm="feedproof"'},
            )
        return digest

    def count(self, caller: bytes) -> None:
        """Take one token from the caller's bucket.

        Raises
        ------
        HTTPException
            429 where it is empty.
        """
        if self._rate <= 0.0:
            return
        now = time.monotonic()
        tokens, last = self._buckets.pop(caller, (float(self._burst), now))
        tokens = min(float(self._burst), tokens + (now - last) * self._rate)
        allowed = tokens >= 1.0
        self._buckets[caller] = (tokens - 1.0 if allowed else tokens, now)
        if len(self._buckets) > _CALLERS_KEPT:
            self._buckets.popitem(last=False)
        if not allowed:
            wait = max(1, math.ceil((1.0 - tokens) / self._rate))
            raise HTTPException(
                status_code=429, detail="more requests than this caller may send", headers={"Retry-After": str(wait)}
            )

    async def __call__(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Guard a route."""
        self.count(self.identify(connection))
