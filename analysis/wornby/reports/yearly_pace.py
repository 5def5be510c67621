"""How far a vehicle goes in a year, in the unit in which a workshop reckons distances."""

from dataclasses import dataclass

from wornby.records.conventions import PER_MILE
from wornby.reports.amounts import amount


@dataclass(frozen=True, slots=True)
class Pace:
    """The distance of a year, told in `unit`: miles or kilometres.

    >>> print(Pace(7_500.0, "miles"), Pace(7_500.0, "kilometres"), sep="; ")
    7,500 miles a year; 12,100 kilometres a year
    """

    miles_per_year: float
    unit: str

    @property
    def per_year(self) -> float:
        """The distance of a year in the unit."""
        return self.miles_per_year * PER_MILE[self.unit]

    def __str__(self) -> str:
        """The distance of a year in words; nought stands for one that no odometer tells."""
        if not self.miles_per_year:
            return "an unknown distance a year"
        return f"{amount(self.per_year, self.unit)} {self.unit} a year"
