"""airtally's server side: configuration, intake, store, analytics, pages and the command line."""
