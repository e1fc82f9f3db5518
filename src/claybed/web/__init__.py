"""The studio app: pages on the person's own machine, on the same actions as the command line."""
