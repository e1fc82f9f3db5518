"""Block, keys and pieces."""
