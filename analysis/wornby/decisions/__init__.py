"""Decisions: what to renew, offer, stock and inspect, in money and risk.

Each takes curves with their uncertainty and costs, prices doing nothing, and says how probable
the advice is to be right. Ages and horizons are in years, money is net of tax.
"""
