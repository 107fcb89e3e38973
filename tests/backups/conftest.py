import pytest

from cli.keeping import NOW, Site, cold
from monitor.clock import WallClock


@pytest.fixture
def noon(monkeypatch):
    """The wall clock stands still at noon."""
    monkeypatch.setattr(WallClock, "now", lambda self: NOW)


@pytest.fixture
def site(tmp_path, noon):
    """Fig is cold since this noon; the folder `stick` takes the backups."""
    found = Site(tmp_path)
    with found.lived() as house:
        cold(house)
    return found
