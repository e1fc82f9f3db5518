"""One module for each thing a person asks for."""
