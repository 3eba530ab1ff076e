"""Typed Python client of the feedproof service."""

from importlib.metadata import version as _distribution_version

__all__ = ["__version__"]

__version__: str = _distribution_version("feedproof-sdk")
