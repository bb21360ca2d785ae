"""Tables of commas: cells by name, and what a row of a shop's table stands for."""
