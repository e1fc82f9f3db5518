"""Where the seam runs and how the parting surface lies."""
