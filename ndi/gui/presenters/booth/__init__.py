"""The booth: one hand on a numeric keypad, a scanner, a dark screen."""
