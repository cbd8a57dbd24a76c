"""Choosing tubes: variants, comparison, search, Pareto front, ideal sizes, workshop rules."""
