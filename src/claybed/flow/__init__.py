"""The order of the stages, and nothing else."""
