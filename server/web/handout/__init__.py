"""The users’ sheet and its PDF."""
