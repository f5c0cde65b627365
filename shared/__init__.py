"""What parsers and server both speak: events, modes, spans, units, zones. Imports nothing else of the project."""
