"""Writing for the workshop: dimensioned drawings and mitre templates at 1:1."""
