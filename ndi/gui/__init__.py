"""The window: presenters decide what is shown (no tkinter in them), views draw it."""
