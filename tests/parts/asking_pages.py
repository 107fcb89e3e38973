"""Forms of the page, sent as a browser without a screen would."""

import re

_TOKEN = re.compile(r'name="ours" value="([0-9a-f]+)"')


def token(client, path="/"):
    """What a form on that page carries for this visit."""
    return _TOKEN.search(client.get(path).text)[1]


def posted(client, path, *, of="/", **fields):
    """A form sent to `path` with the token of the page `of`."""
    return client.post(path, data={"ours": token(client, of), **fields})
