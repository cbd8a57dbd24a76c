"""The frame and its mechanics. Knows no file format and imports nothing above it."""
