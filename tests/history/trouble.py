#!/usr/bin/env python3
"""A history that cannot be written: held by another process, on a full disk, read-only, on a network share. One line with
what to do, nothing half-written, and the rest goes in afterwards.

    trouble.py PROGRAM
"""
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import unittest
from pathlib import Path

from plates import Shop

PROGRAM = str(Path(sys.argv[1]).resolve()) if len(sys.argv) > 1 else ""
NOBODY = 65534


class Trouble(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.shop = Shop(PROGRAM, self.place.name)
        self.path = self.shop.folder / self.shop.file

    def tearDown(self):
        self.place.cleanup()

    def add(self, *names, **more):
        return subprocess.run([PROGRAM, "history", "add", self.shop.file, *names], cwd=self.shop.folder,
                              capture_output=True, text=True, timeout=60, **more)

    def assert_one_line(self, done, words, status=3):
        self.assertEqual(done.returncode, status, done.stderr)
        said = [line for line in done.stderr.splitlines() if not line.endswith((": added", ": already there"))]
        self.assertEqual(len(said), 1, done.stderr)
        self.assertIn(words, said[0])
        self.assertIn(";", said[0])

    def plates_there(self):
        self.assertEqual(self.shop.ask("check")["integrity"], "ok")
        with sqlite3.connect(self.path) as base:
            plates = [row[0] for row in base.execute("SELECT plate_id FROM report JOIN plate USING (plate) ORDER BY 1")]
            figures = base.execute("SELECT count(DISTINCT report) FROM figure").fetchone()[0]
        self.assertEqual(figures, len(plates), "a report without its figures")
        return plates

    def test_a_file_held_for_a_moment_is_waited_for(self):
        self.shop.add(self.shop.flat("P1", 1))
        holder = sqlite3.connect(self.path, isolation_level=None, check_same_thread=False)
        holder.execute("BEGIN IMMEDIATE")
        release = threading.Timer(0.7, lambda: holder.execute("COMMIT"))
        release.start()
        began = time.monotonic()
        done = self.add(self.shop.flat("P2", 2))
        release.join()
        holder.close()
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertGreater(time.monotonic() - began, 0.4)
        self.assertEqual(self.plates_there(), ["P1", "P2"])

    def test_a_file_held_for_long_is_given_up(self):
        self.shop.add(self.shop.flat("P1", 1))
        holder = sqlite3.connect(self.path, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        done = self.add(self.shop.flat("P2", 2))
        holder.execute("ROLLBACK")
        holder.close()
        self.assert_one_line(done, "is held by another process")
        self.shop.add("P2")
        self.assertEqual(self.plates_there(), ["P1", "P2"])

    def test_a_file_that_may_not_grow(self):
        names = [self.shop.flat(f"P{i:02d}", i + 1) for i in range(12)]
        self.shop.add(names[0])
        size = self.path.stat().st_size
        for room in (0, 1, 4096, 20000):
            def limit():
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (size + room, size + room))
            done = self.add(*names, preexec_fn=limit)
            if done.returncode:
                self.assert_one_line(done, self.shop.file)
            said = {line.split(":")[0] for line in done.stderr.splitlines() if line.endswith((": added", ": already there"))}
            self.assertLessEqual(said, set(self.plates_there()))
        self.shop.add(*names)
        self.assertEqual(self.plates_there(), names)

    def test_a_new_history_is_whole_or_not_there(self):
        name = self.shop.flat("P1", 1)
        for room in (0, 1, 4096, 40000):
            def limit():
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
            self.assert_one_line(self.add(name, preexec_fn=limit), self.shop.file)
            self.assertEqual(sorted(p.name for p in self.shop.folder.iterdir()), [name])
        self.shop.add(name)
        self.assertEqual(self.plates_there(), [name])

    def test_two_may_make_the_history_at_once(self):
        names = [self.shop.flat(f"P{i}", i + 1) for i in range(6)]
        at_once = [subprocess.Popen([PROGRAM, "history", "add", self.shop.file, n], cwd=self.shop.folder,
                                    stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True) for n in names]
        for one in at_once:
            self.assertEqual(one.wait(60), 0, one.stderr.read())
            one.stderr.close()
        self.assertEqual(self.plates_there(), names)
        self.assertEqual([p.name for p in self.shop.folder.glob("*.new-*")], [])

    @unittest.skipUnless(os.geteuid() == 0, "mounts a small disk, which needs root")
    def test_a_full_disk(self):
        names = [self.shop.flat(f"P{i:02d}", i + 1) for i in range(40)]
        disk = self.shop.folder / "disk"
        disk.mkdir()
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=220k", "none", str(disk)], capture_output=True)
        if mounted.returncode:
            self.skipTest("no small disk can be mounted here")
        try:
            self.shop.file = "disk/shop.history"
            self.path = self.shop.folder / self.shop.file
            self.shop.add(names[0])
            filler = disk / "filler"
            for room in (0, 4096, 12000, 24000):
                free = os.statvfs(disk)
                filler.write_bytes(b"x" * max(0, free.f_bavail * free.f_frsize - room))
                done = self.add(*names)
                self.assert_one_line(done, "the disk is full")
                filler.unlink()
            self.assertIn(names[0], self.plates_there())
        finally:
            subprocess.run(["umount", "-l", str(disk)], check=False)

    def test_a_file_that_may_only_be_read(self):
        self.shop.add(self.shop.flat("P1", 1), self.shop.flat("P2", 2))
        self.shop.flat("P3", 3)
        with sqlite3.connect(self.path) as base:
            base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        base.close()
        root = os.geteuid() == 0
        os.chmod(self.path, 0o444)
        os.chmod(self.shop.folder, 0o555 if not root else 0o755)
        become = (lambda: os.setuid(NOBODY)) if root else None
        try:
            self.assert_one_line(self.add("P3", preexec_fn=become), "may not be written")
            asked = subprocess.run([PROGRAM, "history", "chart", self.shop.file, "flatness"], cwd=self.shop.folder,
                                   capture_output=True, text=True, preexec_fn=become, timeout=60)
            self.assertEqual(asked.returncode, 0, asked.stderr)
        finally:
            os.chmod(self.shop.folder, 0o755)
        self.assertEqual(self.plates_there(), ["P1", "P2"])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
