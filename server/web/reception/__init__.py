"""The Reception page."""
