"""Shops with known truth: how far each answer is from it."""
