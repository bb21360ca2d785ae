"""Photographs: what a picture file is, and the archive of original files.  Services see it through ``ports.PhotoArchive``."""
