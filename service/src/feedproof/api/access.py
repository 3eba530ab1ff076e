"""Who may call, how often, and at which paths.

Keys and rates are off unless they are set. A path has one spelling, since a rule of a gateway names it as it is written
here: if another spelling led to the same route, the rule would not hold.

References
----------
RFC 9110, HTTP Semantics, 11.6.1 (WWW-Authenticate), 10.2.3 (Retry-After). RFC 6750 (Bearer). RFC 6585, 4 (429).
IETF draft-ietf-httpapi-ratelimit-headers (RateLimit-Policy: `q` quota, `w` window; RateLimit: `r` what remains, `t`
seconds until the quota is whole again).
"""

import math
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from typing import cast

from litestar.connection import ASGIConnection
from litestar.exceptions import HTTPException
from litestar.handlers.base import BaseRouteHandler
from msgspec import Struct

from feedproof.api.keys import Key, KeyBook
from feedproof.telemetry.middleware import MANAGEMENT, App, Receive, Scope, Send, add_header, note

NOWHERE = "/nothing-at-this-path"
"""A path that no route has: the application says that nothing is found, as it does of any other."""


def _is_exact(raw: bytes) -> bool:
    """Whether a path is spelled as the routes are, which need no escapes."""
    return b"%" not in raw and b"//" not in raw and (raw == b"/" or not raw.endswith(b"/"))


def exact_paths(app: App, management: int | None = None) -> App:
    """Answer paths in one spelling only.

    Parameters
    ----------
    app : ASGI application
    management : int, optional
        TCP port that serves health and metrics, which are then found on no other port, and nothing else on it.

    Returns
    -------
    ASGI application
    """

    async def serve(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            found = _is_exact(scope.get("raw_path") or scope["path"].encode())
            if management is not None:
                here = (scope.get("server") or ("", None))[1] == management
                found = found and here == (scope["path"] in MANAGEMENT)
            if not found:
                scope["path"], scope["raw_path"] = NOWHERE, NOWHERE.encode()
        await app(scope, receive, send)

    return serve


CALLERS_KEPT = 10_000


class Grant(Struct, frozen=True, kw_only=True):
    """What became of a request for a token."""

    allowed: bool
    remaining: int
    """Whole tokens left."""
    whole_after: float
    """When the bucket is full again [s]."""
    wait: float
    """When the next token is there; 0 where one is [s]."""


class RateLimit:
    """Token buckets by caller.

    Parameters
    ----------
    rate : float
        Tokens per second that flow in [1/s].
    burst : int
        Tokens that a bucket holds.
    clock : callable
        Seconds that never go back.
    """

    def __init__(self, rate: float, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.rate = rate
        self.burst = burst
        self._clock = clock
        self._levels: OrderedDict[str, tuple[float, float]] = OrderedDict()

    @property
    def policy(self) -> str:
        """`RateLimit-Policy` of every answer."""
        return f'"default";q={self.burst};w={math.ceil(self.burst / self.rate)}'

    def _level(self, caller: str) -> float:
        now = self._clock()
        level, last = self._levels.pop(caller, (float(self.burst), now))
        return min(float(self.burst), level + (now - last) * self.rate)

    def _keep(self, caller: str, level: float) -> None:
        self._levels[caller] = (level, self._clock())
        if len(self._levels) > CALLERS_KEPT:
            self._levels.popitem(last=False)

    def take(self, caller: str) -> Grant:
        """Take one token where there is one."""
        level = self._level(caller)
        allowed = level >= 1.0
        level -= 1.0 if allowed else 0.0
        self._keep(caller, level)
        return Grant(
            allowed=allowed,
            remaining=max(0, math.floor(level)),
            whole_after=(self.burst - level) / self.rate,
            wait=max(0.0, (1.0 - level) / self.rate),
        )

    def take_on_credit(self, caller: str, tokens: int) -> float:
        """Take tokens whether they are there or not.

        Returns
        -------
        float
            How long to wait until what was taken has flowed in [s].
        """
        level = self._level(caller) - tokens
        self._keep(caller, level)
        return max(0.0, -level / self.rate)


def header(grant: Grant) -> str:
    """`RateLimit` of one answer."""
    return f'"default";r={grant.remaining};t={math.ceil(grant.whole_after)}'


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
    refused : callable
        Told `rate` whenever a bucket is empty.
    """

    def __init__(self, keys: KeyBook, buckets: RateLimit | None, refused: Callable[[str], None]) -> None:
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
        address = connection.client.host if connection.client else ""
        if not self._keys.asked_for:
            return address
        key = self._key_in(connection.headers)
        if key is None:
            note(connection.scope, address=address)
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
            self._refused("rate")
            if not self._keys.asked_for:
                note(scope, address=caller)
            raise HTTPException(
                status_code=429,
                detail="more requests than this caller may send",
                headers={"Retry-After": str(max(1, math.ceil(grant.wait)))},
            )

    @staticmethod
    def caller_of(scope: Mapping[str, object]) -> str:
        """Give the caller of a request that has passed."""
        return str(scope[CALLER])

    def wait_for(self, scope: Mapping[str, object], lines: int) -> float:
        """Count lines of a batch beside the first, for which its request took a token.

        Returns
        -------
        float
            How long the batch must wait for the caller to stay within its rate [s].
        """
        return 0.0 if self._buckets is None else self._buckets.take_on_credit(self.caller_of(scope), lines)

    async def __call__(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Guard a route."""
        caller = self.identify(connection)
        cast("Scope", connection.scope)[CALLER] = caller
        self.count(connection.scope, caller)
