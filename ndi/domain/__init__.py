"""The nouns of the trade as frozen values; standard library only, no clock, no file, no database."""
