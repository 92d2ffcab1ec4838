"""Styles, the left hand they make, and a whole tune arranged once."""
