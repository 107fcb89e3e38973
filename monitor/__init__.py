"""Vermistat: holds every composting-worm bin inside the climate its species can live in."""

__version__ = "0.1.0"
