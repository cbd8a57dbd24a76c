"""Tables and stores for comparing and searching tube sets."""
