"""What nobody looks at takes no memory; and every page is found under how its addresses begin."""

import importlib
import pkgutil
import subprocess
import sys

import pytest

from monitor.web import pages

WITH_ROUTES = {
    name: found
    for name in sorted(one.name for one in pkgutil.iter_modules(pages.__path__))
    if (found := getattr(importlib.import_module(f"{pages.__name__}.{name}"), "ROUTES", None)) is not None
}


@pytest.mark.parametrize("name", WITH_ROUTES)
def test_each_of_its_addresses_leads_to_it(name):
    assert WITH_ROUTES[name]
    for route in WITH_ROUTES[name]:
        assert name in pages.OF[route.path.split("/")[1]], route.path


def test_what_stands_in_the_table_is_a_page():
    assert set(WITH_ROUTES) == {name for names in pages.OF.values() for name in names}


def test_a_server_that_nobody_asked_has_imported_none():
    script = (
        "import sys, monitor.web.site, monitor.web.serving\n"
        "print(*(n for n in sys.modules if n.startswith(('monitor.web.pages.', 'monitor.reports.', 'monitor.charts'))))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "" == done.stdout.strip()
