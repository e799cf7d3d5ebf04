"""The shop screen for tests: starts `plateproof serve` on a folder and asks it things."""
import http.client
import json
import re
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode


class Screen:
    def __init__(self, program, folder, *options):
        self.process = subprocess.Popen([program, "serve", str(folder), *options], stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, text=True)
        self.token = self.next_token()
        self.cookie = None

    def next_token(self):
        for line in self.process.stdout:
            found = re.search(r"http://127\.0\.0\.1:(\d+)/\?token=([0-9a-f]{32})", line)
            if found:
                self.port = int(found[1])
                return found[2]
        raise AssertionError("no address: " + self.process.stderr.read())

    def ask(self, method, url, body=None, headers=None, **values):
        """(status, headers, bytes) of one request, as the browser of the person would ask."""
        host = f"127.0.0.1:{self.port}"
        sent = {"Host": host, "Sec-Fetch-Site": "same-origin"}
        if self.cookie:
            sent["Cookie"] = self.cookie
        if method not in ("GET", "HEAD"):
            sent["Origin"] = "http://" + host
            sent["Content-Type"] = "application/json"
        sent.update(headers or {})
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        line.request(method, url + ("?" + urlencode(values) if values else ""), body,
                     {k: v for k, v in sent.items() if v is not None})
        answer = line.getresponse()
        data = answer.read()
        line.close()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, data

    def enter(self):
        status, headers, _ = self.ask("GET", "/?token=" + self.token, headers={"Sec-Fetch-Site": "none"})
        assert status == 303, status
        self.cookie = headers["set-cookie"].split(";")[0]
        self.token = self.next_token()
        return headers

    def json(self, url, **values):
        status, _, data = self.ask("GET", url, **values)
        assert status == 200, (status, data)
        return json.loads(data)

    def end(self, how=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(how)
        out, wrong = self.process.communicate(timeout=10)
        return self.process.returncode, out, wrong


def folder_of_demo(source, into=None):
    """A folder with the demo jobs, as a person would have one."""
    import shutil
    folder = Path(into or tempfile.mkdtemp(prefix="plateproof-serve-"))
    shutil.copytree(Path(source) / "data/demo", folder / "demo")
    return folder


class Events:
    """The stream of events, read line by line."""

    def __init__(self, screen):
        self.line = socket.create_connection(("127.0.0.1", screen.port), timeout=60)
        self.line.sendall((f"GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:{screen.port}\r\nCookie: {screen.cookie}\r\n"
                           "Sec-Fetch-Site: same-origin\r\n\r\n").encode())
        self.file = self.line.makefile("rb")

    def until(self, good, seconds=60):
        """The first state for which good(state) holds."""
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            text = self.file.readline()
            assert text, "the stream ended"
            if text.startswith(b"data: "):
                state = json.loads(text[6:])
                if good(state):
                    return state
        raise AssertionError("it did not come")

    def close(self):
        self.file.close()
        self.line.close()
