"""The search for the best labelling of a diamond frame, and its measurement."""
