"""A folder for one test, and tables written into it."""
import csv
import tempfile
import unittest
from pathlib import Path


class InFolder(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.folder = Path(self.place.name)

    def tearDown(self):
        self.place.cleanup()

    def write(self, name, header, rows):
        (self.folder / name).parent.mkdir(exist_ok=True)
        with open(self.folder / name, "w", newline="") as out:
            writer = csv.writer(out)
            writer.writerow(header)
            writer.writerows(rows)
