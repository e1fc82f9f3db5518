"""Which way the object leaves, and what locks."""
