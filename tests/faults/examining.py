"""Clients that examine at a bench by its rules, and remember what was called saved."""

import asyncio
import contextlib
import random
import re
import time
from collections import Counter

import httpx
from trials import times

from claywit.bench.draft import Draft

SEED = 20261127
SECONDS = times(6, 120)
CLIENTS = 50
MOST_MEMORY = 300  # MB, all processes
PACE = 1.2  # seconds between two keys of somebody who examines
STATES = {"grog": ("absent", "present"), "shell": ("absent", "present")}


@contextlib.asynccontextmanager
async def asking(bench, most=CLIENTS + 10):
    """Give a client that plays by the rules, and the headers of a change."""
    limits = httpx.Limits(max_connections=most, max_keepalive_connections=most)
    async with httpx.AsyncClient(timeout=300, limits=limits, base_url=bench.root) as client:
        await entered(client, bench)
        yield client


async def entered(client, bench):
    """Open the bench in a client: its cookie, and the key of its pages."""
    front = await client.get(bench.opens, follow_redirects=True)
    key = re.search(r'claywit-page" content="([^"]+)', front.text)[1]
    client.headers.update({"origin": bench.root, "x-claywit-page": key})


class Examiner:
    """One client with a practice piece of its own, who remembers what was called saved."""

    def __init__(self, client, number):
        self.client, self.number, self.at = client, number, 0
        self.rng = random.Random(SEED + number)  # noqa: S311 - a seed in sight
        self.version, self.saved, self.took, self.codes = 1, {}, [], Counter()

    async def begin(self):
        begun = await self.client.post("/practise", json={"piece": f"load-{self.number}"})
        self.piece = begun.json()["go"]

    async def save(self):
        node = self.rng.choice(list(STATES))
        self.at += 1
        reading = {"way": "seen", "state": self.rng.choice(STATES[node]), "note": f"{self.at}"}
        data = {"version": self.version, "node": node, "reading": reading, "about": "mould"}
        start = time.monotonic()
        answer = await self.client.post(f"{self.piece}/answer", json=data)
        self.took.append(time.monotonic() - start)
        self.codes[answer.status_code] += 1
        if answer.status_code == 200:
            self.version = answer.json()["version"]
            self.saved[node] = reading

    async def look(self):
        page = self.rng.choice(("/opinion?q=class", "", "/judged", "/state"))
        answer = await self.client.get(f"{self.piece}{page}")
        self.codes[answer.status_code] += 1

    async def work(self, end, pace=0.0):
        with contextlib.suppress(httpx.TransportError):  # the bench was ended
            while time.monotonic() < end:
                await asyncio.sleep(pace * self.rng.uniform(0.5, 1.5))
                await self.save()
                if self.rng.random() < 0.3:
                    await self.look()

    def lost(self, folder):
        """Return what was called saved and does not stand in the newest draft, which is whole."""
        name = self.piece.rpartition("/")[2]
        files = sorted(folder.glob(f"{name}.*.json"))
        drafts = [Draft.model_validate_json(path.read_bytes()) for path in files]
        held = drafts[-1].readings
        return [
            node
            for node, reading in self.saved.items()
            if node not in held or int(held[node].note) < int(reading["note"])
        ]


def drafts_of(bench):
    return bench.casebook.with_name("casebook-bench")


def port(bench):
    return int(bench.root.rpartition(":")[2])
