"""The project's documents; what the code knows itself is generated: `python -m docs`."""
