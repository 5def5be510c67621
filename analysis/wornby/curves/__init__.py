"""Curves: survival against age or distance, with how sure it is."""
