"""The fit sheet: CSV or XLSX table to a bicycle and back."""
