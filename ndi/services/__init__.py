"""The verbs: one use case each, one transaction each, the same for window, terminal and replay."""
