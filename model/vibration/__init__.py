"""Modes, forced response and cadence of a frame with its rider and luggage."""
