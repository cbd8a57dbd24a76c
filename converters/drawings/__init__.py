"""The reader of drawings: DXF bytes to plain curves, curves to a side view. Needs nothing else of converters."""
