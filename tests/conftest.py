"""What holds in every test: chance is not timed, since a busy machine is no mistake; and no test leaves signals blocked,
which every process started later would inherit: a broker that is told to end would not.
"""

import signal

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(autouse=True)
def _signals_are_heard():
    yield
    blocked = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    signal.pthread_sigmask(signal.SIG_UNBLOCK, blocked)
    assert set() == blocked
