"""What an answer rests on: values that were filled in, the model, and the supply as it was taken."""

from typing import Annotated

from msgspec import Struct

from feedproof.contract.estimates import ConductorName, UnitName, about


class Assumption(Struct, frozen=True, kw_only=True):
    """A value that the request left out and the service filled in."""

    pointer: Annotated[
        str,
        about("JSON pointer (RFC 6901) to where the request would state it.", "/meters/dmm/input_impedance"),
    ]
    value: Annotated[float | str | bool, about("What was taken, in `unit`.", 10e6, words="PlainValue")]
    unit: Annotated[str | None, about("Unit of the value. Null: it has none.", "ohm")]
    basis: Annotated[str, about("Where the value comes from.", "typical of a high-impedance voltmeter")]


class ModelRelease(Struct, frozen=True, kw_only=True):
    """Which model answered: the same request to the same model gives the same bytes."""

    version: Annotated[str, about("Version of the model.", "0.1.0")]
    priors_digest: Annotated[
        str,
        about(
            "SHA-256 of the published priors, hexadecimal.",
            "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
        ),
    ]


class ModelIdentity(ModelRelease, frozen=True, kw_only=True):
    """Which model answered which request."""

    request_digest: Annotated[
        str | None,
        about(
            "SHA-256 of the request in canonical JSON (RFC 8785), hexadecimal: which request this answers, however it"
            " was written. Null: no request, or one that was read elsewhere.",
            "26ca84ce35e85fbb463a453ac0d9109a3fb42131efa8b8c451aed5e2dcd9b535",
        ),
    ]


class LegVoltage(Struct, frozen=True, kw_only=True):
    """One leg of the supply against the grounded point at the panel."""

    conductor: ConductorName
    voltage: Annotated[float, about("[V]; scaled to the leg-to-leg reading where there is one, else nominal.", 121.5)]
    angle: Annotated[float, about("Phase against leg L1 [deg].", 180.0)]
    unit: UnitName


class AssessedSupply(Struct, frozen=True, kw_only=True):
    """The supply that the readings were taken to come from."""

    system: Annotated[
        str, about("Supply system (see `/v1/supply-systems`).", "split_phase_120_240", words="SupplySystemCode")
    ]
    frequency: Annotated[float, about("Line frequency [Hz].", 60.0)]
    legs: Annotated[
        list[LegVoltage],
        about("The legs.", [{"conductor": "L1", "voltage": 121.5, "angle": 0.0, "unit": "V"}]),
    ]
