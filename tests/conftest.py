"""One setting for all: a slow machine is no failure."""

from hypothesis import settings

settings.register_profile("wornby", deadline=None)
settings.load_profile("wornby")
