"""What programs ask over HTTP: /api/v1, and /metrics."""
