"""The one graph that every supply fault is a special case of.

Seen from the transformer, three conductors reach the service panel (two legs and the neutral), four leave it
for the receptacle, and four go on to the appliance::

    S1 ── P1 ── R1 ── T1          S   source terminals (ideal, fixed voltage)
    S2 ── P2 ── R2 ── T2          P   service panel
    X0 ── PN ── RN ── TN          R   receptacle
            └── RG ── TG          T   appliance terminals

X0 is the transformer's grounded mid-point and the reference. PN is both the neutral and the ground bar of the
panel: the two are bonded there. House loads lie between the P nodes, strays between the R nodes, the
appliance between the T nodes.

The graph never changes, only its admittances do.
"""

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]

X0, S1, S2, PN, P1, P2, R1, R2, RN, RG, T1, T2, TN, TG = range(14)
NODE_COUNT = 14
FIXED_NODES = (X0, S1, S2)

PANEL = {"L1": P1, "L2": P2, "N": PN, "G": PN}
RECEPTACLE = {"L1": R1, "L2": R2, "N": RN, "G": RG}
TERMINALS = {"L1": T1, "L2": T2, "N": TN, "G": TG}
NODES = {"service_panel": PANEL, "receptacle": RECEPTACLE, "appliance_terminals": TERMINALS}

SERVICE_EDGES = ((X0, PN), (S1, P1), (S2, P2), (P1, PN), (P2, PN))
BRANCH_EDGES = ((P1, R1), (P2, R2), (PN, RN), (PN, RG))
CORD_EDGES = ((R1, T1), (R2, T2), (RN, TN), (RG, TG))
RECEPTACLE_PAIRS = ((R1, R2), (R1, RN), (R1, RG), (R2, RN), (R2, RG), (RN, RG))
TERMINAL_PAIRS = ((T1, T2), (T1, TN), (T1, TG), (T2, TN), (T2, TG), (TN, TG))

_EDGES = (*SERVICE_EDGES, *BRANCH_EDGES, *RECEPTACLE_PAIRS, *CORD_EDGES, *TERMINAL_PAIRS)
_NUMBER = {(min(a, b), max(a, b)): number for number, (a, b) in enumerate(_EDGES)}

EDGE_COUNT = len(_NUMBER)
#: Tail and head of each numbered edge; shape (2, EDGE_COUNT).
EDGE_ENDS: IntArray = np.array(list(_NUMBER), dtype=np.int64).T.copy()


def edge_number(a: int, b: int) -> int:
    """Number of the edge between two nodes.

    Parameters
    ----------
    a, b : int
        Nodes, in any order [1].

    Returns
    -------
    int
        Index into `EDGE_ENDS` [1].

    Raises
    ------
    KeyError
        If the graph has no such edge.
    """
    return _NUMBER[min(a, b), max(a, b)]
