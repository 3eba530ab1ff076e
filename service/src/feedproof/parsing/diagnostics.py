"""What is noted while a request is parsed: faults, and values that were filled in."""

import json
import math
from collections.abc import Sequence

from feedproof import units
from feedproof.contract import quantities as q
from feedproof.contract.assessment import Assumption
from feedproof.contract.problem import RequestFault
from feedproof.instruments import typical

UNKNOWN = "not stated; a broad prior stands for it"
"""Basis of an assumption that nothing is known."""
MAX_ECHO = 80
"""Letters of a faulty value that are given back."""
LARGEST = 1e300
"""Beyond it a number counts as infinite."""


def escape(token: str) -> str:
    """Escape one reference token of a JSON pointer (RFC 6901, section 3)."""
    return token.replace("~", "~0").replace("/", "~1")


def echo(value: object) -> str | float | bool | None:
    """Give a faulty value back, shortened and harmless."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        number = float(value) if abs(value) <= LARGEST else math.inf
        return number if math.isfinite(number) else str(value)[:MAX_ECHO]
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= MAX_ECHO else text[:MAX_ECHO] + "..."


class Diagnostics:
    """Faults and assumptions, as they are met."""

    def __init__(self, faults: list[RequestFault] | None = None, broken: frozenset[str] = frozenset()) -> None:
        self.faults: list[RequestFault] = faults if faults is not None else []
        self.assumptions: list[Assumption] = []
        self._broken = broken

    def is_broken(self, pointer: str) -> bool:
        """Whether the value there is a stand-in, so that nothing can be said of it."""
        return any(pointer == b or pointer.startswith(b + "/") or b.startswith(pointer + "/") for b in self._broken)

    def fault(self, pointer: str, code: str, detail: str, accepted: Sequence[str], value: object) -> None:
        """Note a fault, unless what is there is a stand-in already."""
        if not self.is_broken(pointer):
            self.faults.append(
                RequestFault(pointer=pointer, code=code, detail=detail, accepted=list(accepted), value=echo(value))
            )

    def assume(self, pointer: str, value: float | str | bool, unit: str | None, basis: str) -> None:  # noqa: FBT001
        """Note a value that was filled in."""
        self.assumptions.append(Assumption(pointer=pointer, value=value, unit=unit, basis=basis))

    def quantity(self, value: float | str, kind: q.Quantity, pointer: str) -> float:
        """Convert; a faulty one is noted and stands as the lower bound."""
        result = units.convert(value, kind)
        if isinstance(result, float):
            return result
        self.fault(pointer, result.code, result.detail, result.accepted, value)
        return max(kind.low, 0.0)

    def optional(self, value: float | str | None, kind: q.Quantity, pointer: str) -> float | None:
        """Convert where there is a value."""
        return None if value is None else self.quantity(value, kind, pointer)

    def figure(
        self, value: float | str | None, kind: q.Quantity | None, pointer: str, figure: typical.Figure, kind_name: str
    ) -> float:
        """Convert, or take the typical figure and note that."""
        if value is None:
            self.assume(pointer, figure.value, figure.unit, f"typical of {kind_name} ({figure.basis})")
            return figure.value
        if kind is None:
            return float(value)
        return self.quantity(value, kind, pointer)

    def plain_text(self, text: str | None, pointer: str) -> None:
        """Refuse what the schema's pattern refuses but Python's `$` lets pass: a line end at the very end."""
        if text is not None and text.endswith("\n"):
            self.fault(pointer, "not_accepted", "control character", ["no control characters"], text)
