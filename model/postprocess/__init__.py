"""What a builder asks of a solved frame: stress, fatigue range, sensitivity, ride feel."""
