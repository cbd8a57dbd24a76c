"""Tables of comparisons, searches and ideal sizes."""
