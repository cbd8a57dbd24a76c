"""Files in and out: fit sheet, DXF, analysis-model JSON, tables. Heavy libraries load where they are used."""
