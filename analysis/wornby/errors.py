"""The three things that can be wrong with what wornby is given."""


class RecordError(Exception):
    """A file, or a line of one, cannot be read as it stands."""


class HistoryError(Exception):
    """Records contradict one another."""


class EstimateError(Exception):
    """The data cannot support the question that was asked of them."""
