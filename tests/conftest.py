"""What holds in every test: chance is not timed, since a busy machine is no mistake."""

from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")
