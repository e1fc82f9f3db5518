"""Evidence that a mold closes, opens and holds, measured on the finished solids alone."""
