"""The terminal: parse, ask one thing, print."""
