"""Parsing of requests: one comes in as bytes and leaves as a reading set in SI units, or with all its faults.

Units are converted here and nowhere else. Every default that is filled in is noted as an assumption, so that
an answer says on what it rests.
"""

from feedproof.parsing.admission import Admitted, admit, read_request
from feedproof.parsing.simulation import AdmittedSimulation, read_simulation

__all__ = ["Admitted", "AdmittedSimulation", "admit", "read_request", "read_simulation"]
