"""Reading DXF: bytes to plain curves, tolerant of every dialect, refusing what is damaged."""
