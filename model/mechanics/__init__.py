"""The analysis model and its solution: beams, constraints, assembly, solve, mechanisms, energy, buckling."""
