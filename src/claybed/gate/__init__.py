"""Where slip goes in and out."""
