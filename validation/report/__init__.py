"""Collects what the report page shows."""
