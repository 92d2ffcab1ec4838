"""Playing along: a performance that sounds now, and follows the player."""
