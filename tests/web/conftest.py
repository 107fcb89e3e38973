import pytest

from parts.browser import chromium
from parts.paged import paged


@pytest.fixture(scope="session")
def browser():
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """A daemon with its page for all tests of a file that only look."""
    with paged(tmp_path_factory.mktemp("paged")) as one:
        yield one
