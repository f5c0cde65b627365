"""The Moment page."""
