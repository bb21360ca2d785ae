"""The desk as it is drawn: bright, quiet, worked by keys; every text comes from a presenter."""
