"""Plain curves become a labelled, measured side view, or a refusal that says why."""
