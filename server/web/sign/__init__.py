"""Signing in: password, sessions, throttle."""
