"""Wire types: what goes over HTTP, and nothing else. Imports no other part of the package."""
