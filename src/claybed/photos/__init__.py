"""From photographs on a printed mat to an object."""
