import pytest

from cli.keeping import NOW, Site, cold
from monitor.clock import WallClock


@pytest.fixture
def noon(monkeypatch):
    """The wall clock stands still at noon."""
    monkeypatch.setattr(WallClock, "now", lambda self: NOW)


@pytest.fixture
def site(tmp_path, noon):
    return Site(tmp_path)


@pytest.fixture
def cold_site(site):
    """Alarm 1: Fig is in harm by cold since this noon, told to ana and not to ben."""
    with site.lived() as house:
        cold(house)
    return site
