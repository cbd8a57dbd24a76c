"""What a joint of thin tubes gives beyond beams that meet rigidly: its shape, and a law fitted to a study in shells."""
