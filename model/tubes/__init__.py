"""What tubes are: materials, sections, butted and tapered tubes, the catalogue."""
