"""The plan in 3D, as one self-contained page."""
