"""A forecast that anybody publishes to a real Mosquitto is kept; one that cannot be used is refused, and the kept one stays."""

from dataclasses import replace

from monitor.bed.outside import KIND, TOLD, outside_of
from monitor.readings import HOUR
from monitor.settings import load
from monitor.store.memory import MemoryStore
from parts.lived import lived
from parts.mosquitto import Mosquitto
from parts.weather_service import body

NOW = 1_795_608_000_000
SETTINGS = """
site: {id: orchard}
bins:
  fig:
    species: eisenia-fetida
    zones: {middle: {probes: {fig-middle: {measures: temperature, topic: probes/fig}}}}
outdoors: {topic: weather/next, times: /hours/time, temperatures: /hours/celsius}
"""


def test_a_forecast_is_kept_and_a_bad_one_is_refused(tmp_path):
    (tmp_path / "s.yaml").write_text(SETTINGS)
    settings, store = load([tmp_path / "s.yaml"], environ={}), MemoryStore()
    with Mosquitto("set_tcp_nodelay true") as broker:
        settings = replace(settings, broker=replace(settings.broker, port=broker.port, host="127.0.0.1"))
        with lived(settings, port=broker.port, store=store, start=NOW) as life:
            life.say(NOW + 1000, ("weather/next", body(NOW, range(30))), ("probes/fig", "18.0"), stored=1)
            kept = outside_of(store.standing(KIND)[TOLD])
            assert [(NOW + n * HOUR, float(n)) for n in range(30)] == list(kept.hours)
            life.say(NOW + 2000, ("weather/next", '{"hours": {"time": []}}'), ("probes/fig", "18.1"), stored=1)
            assert kept == outside_of(store.standing(KIND)[TOLD])
            (refused,) = store.refusals()
    expected = "`temperatures: /hours/celsius` leads nowhere: at /hours there is /time."
    assert ("weather/next", None, expected) == (refused.topic, refused.probe, refused.reason)
