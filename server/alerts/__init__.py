"""Rules that watch the overs and the clock, what they raise, and how the keeper is told (docs/definitions.md,
Alerts).
"""
