"""Backings to practise with: from a tune and an accompaniment style to a practice file."""
