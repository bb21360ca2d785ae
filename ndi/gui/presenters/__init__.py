"""What a screen shows and what a key means; knows services, never a widget."""
