"""The Transmitter page and its incidents."""
