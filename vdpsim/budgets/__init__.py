"""Arithmetic on chips: budgets, comparisons, sweeps."""
