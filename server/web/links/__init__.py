"""The Links page."""
