"""The same frame with other tubes, fast: condensed stiffness and tube flexibility, for thousands of variants."""
