"""Faults of a whole `airtally serve`."""
