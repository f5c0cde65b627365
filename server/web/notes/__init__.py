"""The keeper's notes of what was done at the station: their page, and their marks on pictures."""
