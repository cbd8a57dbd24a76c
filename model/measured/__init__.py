"""What was measured on a frame, held against what was worked out: nothing is fitted, what would explain it is said."""
