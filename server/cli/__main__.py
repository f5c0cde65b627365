"""`python -m server.cli` is `airtally`."""

from server.cli import main

main()
