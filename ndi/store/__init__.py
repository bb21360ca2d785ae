"""The record book on a database: journal, read tables, station key, verification."""
