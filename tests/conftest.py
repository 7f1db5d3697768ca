"""What every test gets."""

from hypothesis import settings

# A machine that is busy with other things must not fail a test: how fast we are is measured by the bench.
settings.register_profile("house", deadline=None)
settings.load_profile("house")
