"""The Month page and its PDF."""
