"""What ``ndi compute`` can do: each computation's keys, words, example, and the call of its formula."""
