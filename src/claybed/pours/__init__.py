"""Water and plaster for each pour, what the piece weighs, and whether the object floats meanwhile."""
