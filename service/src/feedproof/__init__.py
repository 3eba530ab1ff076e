"""feedproof: tells from a technician's readings whether an appliance's electrical supply is at fault."""

from importlib.metadata import version as _distribution_version

__all__ = ["__version__"]

__version__: str = _distribution_version("feedproof")
