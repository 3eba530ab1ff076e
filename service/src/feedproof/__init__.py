"""feedproof: proves an appliance's electrical feed from a technician's readings."""

from importlib.metadata import version as _distribution_version

__all__ = ["__version__"]

__version__: str = _distribution_version("feedproof")
