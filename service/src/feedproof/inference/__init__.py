"""Bayesian inference over (fault, circuit). Numbers in, numbers out; knows nothing of HTTP or wording."""
