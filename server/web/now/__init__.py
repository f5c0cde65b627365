"""The first page: how it stands."""
