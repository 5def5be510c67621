"""How hypothesis searches: the same cases each time in the tests, new ones in `make fuzz`."""

from hypothesis import settings

settings.register_profile("tests", deadline=None, derandomize=True, max_examples=60)
settings.register_profile("fuzz", deadline=None, max_examples=3000, print_blob=True)
settings.load_profile("tests")
