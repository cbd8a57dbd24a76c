"""Load cases: loads, supports and measures as one value."""
