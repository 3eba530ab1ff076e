"""Who may call, and how often. Both are off unless they are set.

References
----------
RFC 9110, HTTP Semantics, 11.6.1 (WWW-Authenticate), 10.2.3 (Retry-After). RFC 6750 (Bearer). RFC 6585, 4 (429).
"""

import math
from collections.abc import Callable, Mapping
from typing import cast

from litestar.connection import ASGIConnection
from litestar.exceptions import HTTPException
from litestar.handlers.base import BaseRouteHandler

from feedproof.api.keys import Key, KeyBook
from feedproof.api.rate_limit import RateLimit, header
from feedproof.telemetry.middleware import Scope, add_header, note

CALLER = "feedproof.caller"
_SCHEME = "bearer "

Connection = ASGIConnection[BaseRouteHandler, object, object, object]  # type: ignore[type-var]


class Gate:
    """Checks keys and counts requests.

    Parameters
    ----------
    keys : KeyBook
        Keys that may call; one that asks for none lets anybody in.
    buckets : RateLimit or None
        What each caller may send; None: any number.
    refused : callable, optional
        Told `rate` whenever a bucket is empty.
    """

    def __init__(
        self, keys: KeyBook, buckets: RateLimit | None = None, refused: Callable[[str], None] | None = None
    ) -> None:
        self._keys = keys
        self._buckets = buckets
        self._refused = refused

    def identify(self, connection: Connection) -> str:
        """Tell who calls: the key's id, or the address where keys are not asked for.

        Raises
        ------
        HTTPException
            401 where a key is asked for and none that is known was sent.
        """
        if not self._keys.asked_for:
            return connection.client.host if connection.client else ""
        key = self._key_in(connection.headers)
        if key is None:
            raise HTTPException(
                status_code=401,
                detail="send a known key, as Authorization: Bearer or as Api-Key",
                headers={"WWW-Authenticate": 'Bearer realm="feedproof"'},
            )
        note(connection.scope, client=key.client, key=key.id)
        return key.id

    def _key_in(self, headers: Mapping[str, str]) -> Key | None:
        authorization = headers.get("authorization", "")
        bearer = authorization[len(_SCHEME) :].strip() if authorization.lower().startswith(_SCHEME) else ""
        return self._keys.find(bearer or headers.get("api-key", ""))

    def may_call(self, scope: Scope) -> bool:
        """Whether the caller of a request may call at all, told from its headers before anything else is done."""
        if not self._keys.asked_for:
            return True
        return self._key_in({k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}) is not None

    def count(self, scope: Mapping[str, object], caller: str) -> None:
        """Take one token from the caller's bucket.

        Raises
        ------
        HTTPException
            429 where it is empty.
        """
        if self._buckets is None:
            return
        grant = self._buckets.take(caller)
        add_header(scope, b"ratelimit-policy", self._buckets.policy.encode("ascii"))
        add_header(scope, b"ratelimit", header(grant).encode("ascii"))
        if not grant.allowed:
            if self._refused:
                self._refused("rate")
            raise HTTPException(
                status_code=429,
                detail="more requests than this caller may send",
                headers={"Retry-After": str(max(1, math.ceil(grant.wait)))},
            )

    @staticmethod
    def caller_of(scope: Mapping[str, object]) -> str:
        """Give the caller of a request that has passed."""
        return str(scope[CALLER])

    def pause(self, scope: Mapping[str, object], lines: int) -> float:
        """Count further sets of a batch, whose request took a token for the first.

        Returns
        -------
        float
            How long the batch must pause for the caller to stay within its rate [s].
        """
        return 0.0 if self._buckets is None else self._buckets.borrow(self.caller_of(scope), lines)

    async def __call__(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Guard a route."""
        caller = self.identify(connection)
        cast("Scope", connection.scope)[CALLER] = caller
        self.count(connection.scope, caller)
