"""The Week page."""
