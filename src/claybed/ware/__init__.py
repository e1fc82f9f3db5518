"""Stage: what happens after the mold opens: size, casting, pressing, drying."""
