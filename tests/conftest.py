"""What holds for every test."""

from hypothesis import settings

# A busy machine is no defect: how long an example takes is never asserted.
settings.register_profile("airtally", deadline=None)
settings.load_profile("airtally")
