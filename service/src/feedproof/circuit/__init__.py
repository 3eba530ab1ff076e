"""Pure circuit: nodes, branches, sources, solutions. Knows nothing of faults, instruments' errors or inference."""
