"""How fast the record book is, beside the floor that the machine sets in the same run: ``python -m tests.bench``."""
