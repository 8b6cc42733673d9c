"""Stacks in, findings out: what will break, drop out or not be carved."""
