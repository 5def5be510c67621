"""The invented world: Saltmarsh Van Works, its Merrow vans, and the truth behind its records."""

from wornby.demo.export import Records, demo_records
from wornby.demo.parameters import WorldParameters
from wornby.demo.writing import write_records

__all__ = ["Records", "WorldParameters", "demo_records", "write_records"]
