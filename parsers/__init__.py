"""A batch of lines in, columns of events out. No files, no clock, no database."""
