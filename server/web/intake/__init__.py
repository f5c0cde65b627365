"""The Intake page: what was read, and how well."""
