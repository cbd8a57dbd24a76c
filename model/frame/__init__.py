"""A bicycle in space: layout, parts, mesh, weight, mitres."""
