"""What meters do to a circuit and how far their figures can be trusted."""
