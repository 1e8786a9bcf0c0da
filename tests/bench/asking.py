"""The bench asked in the same process, without a socket: fast, and every header in our hands."""

from datetime import UTC, datetime, timedelta

from desk import form, seeded
from starlette.testclient import TestClient

from claywit.bench.app import make_app
from claywit.bench.desk import Desk
from claywit.bench.guard import PAGE_KEY, Pass
from claywit.records import casebook, files, opening

START = datetime(2026, 1, 11, 9, 0, tzinfo=UTC)
PORT = 8000
ROOT = f"http://127.0.0.1:{PORT}"


class Asking:
    """A bench with an empty casebook in *folder*, and a browser that plays by the rules."""

    def __init__(self, folder, model=None):
        self.ticks = 0
        self.held = Pass(PORT, start="start", session="session", page="page")
        self.casebook = folder / "casebook.db"
        if not self.casebook.exists():
            opening.begin(self.casebook, START, seeded(1))
        self.desk = Desk(
            model=model or files.read_demonstration(),
            standards=files.read_standards(),
            casebook=self.casebook,
            drafts=folder / "casebook-bench",
            now=self.now,
            rng=seeded(2),
            page_key=self.held.page,
        )
        self.client = TestClient(
            make_app(self.desk, self.held), base_url=ROOT, raise_server_exceptions=False
        )
        self.client.cookies.set(self.held.cookie, self.held.session)

    def now(self):
        """Return a clock that moves a minute at each look."""
        self.ticks += 1
        return START + timedelta(minutes=self.ticks)

    def get(self, address, **headers):
        return self.client.get(address, headers=headers)

    def post(self, address, data=None, *, content=None, **headers):
        rules = {"origin": ROOT, PAGE_KEY: self.held.page, **headers}
        if content is not None:
            return self.client.post(address, content=content, headers=rules)
        return self.client.post(address, json=data or {}, headers=rules)

    def practise(self, piece="heron"):
        """Begin a practice piece; return its address."""
        return self.post("/practise", {"piece": piece}).json()["go"]

    def examine(self, piece="weir-021", examiner="A", **intake):
        """Take a piece in and begin its examination; return its address."""
        with opening.opened(self.casebook, write=True) as store:
            casebook.intake(store, form(piece, **intake), START, seeded(3))
        return self.post("/begin", {"case": piece, "examiner": examiner}).json()["go"]

    def state(self, piece):
        return self.get(f"{piece}/state").json()

    def answer(self, piece, node, reading, **more):
        said = {"version": self.state(piece)["version"], "node": node, "reading": reading}
        return self.post(f"{piece}/answer", {**said, **more})

    def see(self, piece, **states):
        """Answer traits as seen for certain."""
        for node, state in states.items():
            assert self.answer(piece, node, {"way": "seen", "state": state}).status_code == 200
