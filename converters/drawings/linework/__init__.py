"""Drawn curves sorted into what a frame is made of: rounds, strokes, pairs of edges, evidence of layers."""
