"""Rendered photos of tops with exact truth, for samples, tests and benchmarks."""
