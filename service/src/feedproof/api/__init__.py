"""HTTP: routes, content negotiation, problem details and the published document."""
