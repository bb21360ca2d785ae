"""Forty questions that a supervisor, an auditor or an owner asks, each answered by a list."""
