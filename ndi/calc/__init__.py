"""Formulas: numbers in, numbers out, each with its source.  No limits of a procedure, no clock, file or window."""
