"""What the service says of itself: one log line and one set of metrics per request, no readings in either."""
