"""Shapes drawn for the benchmarks."""
