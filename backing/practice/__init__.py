"""What to practise (plan), the way through it (route), all of it laid end to end."""
