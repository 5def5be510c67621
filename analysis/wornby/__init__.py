"""Worn by what age? A workshop's own job records into failure-age curves, and curves into decisions."""
