"""The daemon begins, and takes up other settings, although what was kept of a forecast cannot be looked at."""

from monitor.clock import Patience
from monitor.errors import StoreError
from monitor.outdoors import Fetching


class Failing:
    def standing(self, kind, under=None):
        raise StoreError("the card is gone")


def test_without_an_address_it_begins_and_says_what_is_left(caplog):
    Fetching(None, site="yard", store=Failing(), now=lambda: 0, patience=Patience()).start()
    assert "is still kept: the card is gone" in caplog.text
