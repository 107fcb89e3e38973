"""What is written ahead: the frames in a WAL, counted from its index."""


class Frames:
    """Frames put into a WAL so far: `mxFrame` of the WAL index (sqlite.org/walformat.html, 2.3.1), summed up. To
    be looked at after every commit, because the count begins anew when the WAL does.
    """

    def __init__(self, path):
        self._index = path.with_name(path.name + "-shm")
        self._last = 0
        self.total = 0

    def look(self):
        """How many came since the last look."""
        with self._index.open("rb") as file:
            file.seek(16)
            newest = int.from_bytes(file.read(4), "little")
        added = newest - self._last if newest >= self._last else newest
        self._last = newest
        self.total += added
        return added
