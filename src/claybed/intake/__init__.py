"""From a file to a measured, closed object."""
