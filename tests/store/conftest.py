import pytest

from parts.kept import STORES, moved_often


@pytest.fixture(params=STORES)
def store(request, tmp_path, monkeypatch):
    if "moved often" in request.param:
        moved_often(monkeypatch)
    store = STORES[request.param](tmp_path)
    yield store
    store.close()
