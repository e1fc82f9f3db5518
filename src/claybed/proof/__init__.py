"""Evidence that a mold comes apart; it builds nothing."""
