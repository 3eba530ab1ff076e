"""Factors of the published units. The only module that knows the unit library.

The library takes half a second to read its definitions, and always says the same. So it is asked once, and what it
said is kept beside the compiled functions for as long as neither its version nor the list of units changes.

References
----------
Factors: the unit library's definitions, which follow the SI Brochure, 9th edition, and NIST SP 811.
"""

import contextlib
import hashlib
import os
from decimal import Decimal
from importlib.metadata import version
from pathlib import Path

import msgspec
from msgspec import Struct

from feedproof.contract.quantities import DIMENSIONS
from feedproof.kept import kept_folder


class Scale(Struct, frozen=True):
    """How a unit becomes the SI unit: value = number · factor + offset."""

    factor: Decimal
    offset: Decimal


Scales = dict[str, dict[str, Scale]]
"""By name of the dimension, and unit as it is spelled."""


def ask_library() -> Scales:
    """Ask the unit library for every published unit.

    Returns
    -------
    Scales
        In decimal arithmetic, so that "0.2431 kV" and 243.1 are the same float, and a unit never changes an answer's
        bytes.
    """
    # Imported here: who finds the factors on disk does not need the library.
    from pint import UnitRegistry  # noqa: PLC0415

    registry: UnitRegistry[Decimal] = UnitRegistry(non_int_type=Decimal, autoconvert_offset_to_baseunit=True)
    tables: Scales = {}
    for dimension in DIMENSIONS:
        table: dict[str, Scale] = {}
        for spelled, name in dimension.units.items():
            zero, one = (
                Decimal(registry.Quantity(Decimal(x), name).to(dimension.library_unit).magnitude) for x in (0, 1)
            )
            table[spelled] = Scale(one - zero, zero)
        tables[dimension.name] = table
    return tables


def _file() -> Path:
    """Where the factors are kept for this list of units and this version of the library."""
    state = repr((version("pint"), [(d.name, d.library_unit, sorted(d.units.items())) for d in DIMENSIONS]))
    return kept_folder() / f"units-{hashlib.sha256(state.encode()).hexdigest()[:16]}.json"


def scales() -> Scales:
    """Factors of every published unit, from disk where they are there.

    Returns
    -------
    Scales
        The same as `ask_library`.
    """
    file = _file()
    with contextlib.suppress(OSError, msgspec.DecodeError):
        return msgspec.json.decode(file.read_bytes(), type=Scales)
    found = ask_library()
    with contextlib.suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(f".{os.getpid()}")
        part.write_bytes(msgspec.json.encode(found))
        part.replace(file)
    return found
