"""What is said of music, boxes and practice, language by language."""
