"""What the studio keeps: objects, plans, molds, and what was measured on them, in one SQLite file."""
