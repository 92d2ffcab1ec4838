"""Readers: text or bytes to tunes.  No reader opens a file."""
