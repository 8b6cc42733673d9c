"""Repair: what stands in a recipe's way in, the recipe with the remedies applied out."""
