"""The analysis model as JSON, in and out."""
