"""Writers: values to bytes or text.  No writer opens a file."""
