"""What holds in every test: chance is not timed, since a busy machine is no mistake; and no test leaves signals blocked,
which every process started later would inherit: a broker that is told to end would not. What commands keep ready is kept apart.
"""

import signal

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(autouse=True, scope="session")
def _nothing_is_kept_at_home(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(autouse=True)
def _signals_are_heard():
    yield
    blocked = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    signal.pthread_sigmask(signal.SIG_UNBLOCK, blocked)
    assert set() == blocked
