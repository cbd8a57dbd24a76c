"""Pictures by matplotlib: side view, isometric, deflected shapes, plots."""
