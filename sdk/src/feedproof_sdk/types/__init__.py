"""Every type that goes over the wire: `request` is sent, `assessment`, `catalogue` and `problem` come back.

`simulation` has both sides of a simulation.
"""
