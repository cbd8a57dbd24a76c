"""The side view in numbers: dimensions, statements of a sheet, closure."""
