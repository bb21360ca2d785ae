"""The dark screen: one canvas, red on black, nothing of the toolkit's themes on it."""
