#!/usr/bin/env python3
"""A history on a network share: without a write-ahead log, which needs memory that machines can't share, and said.

    network.py PROGRAM NETWORK_SHARE.so
"""
import contextlib
import os
import sqlite3
import sys
import tempfile
from pathlib import Path

from plates import Shop


def journal(shop):
    with contextlib.closing(sqlite3.connect(shop.folder / shop.file)) as base:
        return base.execute("PRAGMA journal_mode").fetchone()[0]


def main():
    program, share = (str(Path(word).resolve()) for word in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as place:
        shop = Shop(program, place)
        names = [shop.flat(f"P{i}", 1 + i / 8) for i in range(4)]
        shop.add(names[0])
        assert journal(shop) == "wal"
        os.environ["LD_PRELOAD"] = share
        said = shop.add(*names[1:3]).stderr  # the file was brought over from a disk of its own
        assert "lies on a network share" in said, said
        assert journal(shop) == "delete"
        assert shop.ask("chart", "flatness")["values"] == [1, 1.125, 1.25]
        del os.environ["LD_PRELOAD"]
        said = shop.add(names[3]).stderr
        assert "network" not in said and journal(shop) == "wal", said
        assert shop.ask("check")["integrity"] == "ok"
    return 0


if __name__ == "__main__":
    sys.exit(main())
