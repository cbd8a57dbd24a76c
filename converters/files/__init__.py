"""Files in and out: fit sheet, analysis model, TOML tables, catalogues, VTU and surfaces, drawings written at 1:1."""
