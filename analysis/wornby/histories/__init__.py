"""Histories: who was watched, from when to when.

A fitment is at risk over (entry, exit]: one first seen at nine years says nothing about
the first nine, and one whose failure brought the vehicle in at its first visit adds nothing.
"""
