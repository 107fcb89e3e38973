"""One module a page; each says in `ROUTES` what it answers. `web/site.py` takes every module that is here."""
