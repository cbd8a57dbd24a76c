"""The bicycle running straight: the rigid linearised bicycle, and shimmy with a flexible frame and tyres."""
