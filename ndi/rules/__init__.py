"""The questions of a procedure: one pure function for each rule, listed in ``registry``."""
