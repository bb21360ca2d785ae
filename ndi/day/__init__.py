"""A day as plain files that a person can read and change, and its replay through the use cases."""
