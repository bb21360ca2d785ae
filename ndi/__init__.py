"""Inspection records that check themselves: facts go in, answers come out, decisions are signed on answers."""

__version__ = "0.1.0"
