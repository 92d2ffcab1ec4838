"""A page: one file of HTML that shows a tune and plays it, in any browser, without a network."""
