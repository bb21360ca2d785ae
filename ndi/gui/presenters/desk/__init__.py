"""What the desk shows and does: one small module for each screen, no widget in any of them."""
