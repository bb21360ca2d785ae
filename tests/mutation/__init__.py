"""Mutation testing: small faults are put into the program, and the tests must notice each."""
