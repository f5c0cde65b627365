"""Learn a log that nobody described: lines in, dialect and reading out. Pure: no files, no clock, no database."""
