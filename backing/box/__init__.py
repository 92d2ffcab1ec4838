"""A box: its buttons, whether a tune sits on it, how it is fingered, what the bellows do."""
