"""Which paths are answered: each in one spelling, and where that was set, health and metrics on a port of their own.

A rule of a gateway names a path as it is written here. If another spelling led to the same route, the rule would not
hold.
"""

from feedproof.telemetry.middleware import App, Receive, Scope, Send

MANAGEMENT = frozenset({"/health/live", "/health/ready", "/metrics"})
"""Paths for whoever operates the service."""
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
