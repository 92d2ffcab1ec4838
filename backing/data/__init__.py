"""Files that players write themselves, in TOML: read with all their faults at once."""
