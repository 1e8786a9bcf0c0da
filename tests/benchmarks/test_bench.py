"""The bench under load, and at every key: memory of all its processes, and time to a new opinion.

The memory has a bound of its own; the times are printed, since a busy machine is no fault of the code.
"""

import asyncio
import io
import re
from collections import Counter

import httpx
import pytest
from bench.browser import chromium, needs_browser, running, until
from bench.keyboard import READ, practise, press, saved
from figures import figure
from memory import watched
from patience import in_loop
from PIL import Image

from claywit.records import opening
from claywit.records.case import read_cases

pytestmark = pytest.mark.benchmark
MOST = 300  # MB
KEYS = 40
NAMED = ("grog", "shell", "bubbles", "crack_lip", "relief_edge")


def jpegs(count):
    """Return as many photographs, no two the same: each says in its head which it is."""
    written = io.BytesIO()
    Image.effect_noise((6000, 4000), 60).convert("RGB").save(written, "JPEG", quality=92)
    start, rest = written.getvalue()[:2], written.getvalue()[2:]
    return [b"%b\xff\xfe\x00\x04%02d%b" % (start, i, rest) for i in range(count)]


def kept(bench):
    """Return how many photographs the casebook holds."""
    with opening.opened(bench.casebook) as store, store.reading():
        return sum(len(case.photographs) for case in read_cases(store))


async def fifty(bench):
    """Ask for pages, opinions and whole judgements, and send photographs, fifty at a time."""
    async with httpx.AsyncClient(
        timeout=600, limits=httpx.Limits(max_connections=60), base_url=bench.root
    ) as client:
        front = await client.get(bench.opens, follow_redirects=True)
        key = re.search(r'claywit-page" content="([^"]+)', front.text)[1]
        rules = {"origin": bench.root, "x-claywit-page": key}
        await client.post("/intake", json={"id": "w-1"}, headers=rules)
        begun = await client.post("/begin", json={"case": "w-1", "examiner": "A"}, headers=rules)
        case = begun.json()["go"]
        practice = [
            (await client.post("/practise", json={}, headers=rules)).json()["go"] for _ in range(10)
        ]
        pictures = jpegs(10)
        kinds = [
            lambda i: client.post(
                f"{case}/photograph?node=wear",
                content=pictures[i // 5],
                headers={**rules, "content-type": "application/octet-stream"},
            ),
            lambda i: client.get(f"{practice[i % 10]}/judged"),
            lambda i: client.get(f"{practice[i % 10]}/opinion"),
            lambda i: client.get(practice[i % 10]),
            lambda i: client.get("/"),
        ]
        found = await asyncio.gather(*(kinds[i % 5](i) for i in range(50)))
        return Counter(answer.status_code for answer in found), len(pictures[0])


def test_fifty_requests_at_a_time_stay_within_their_memory(tmp_path, figures):
    with running(tmp_path) as bench, watched(bench.process.pid) as peak:
        codes, size = in_loop(fifty(bench))
        photographs = kept(bench)
    said = (
        f"50 requests, 10 of them photographs of {size / 1e6:.0f} MB: {dict(codes)}, all processes"
    )
    figure(figures, said, f"{peak[0]:.0f} MB", f"under {MOST} MB")
    assert codes == {200: 50}
    assert photographs == 10
    assert peak[0] < MOST


# From the key as the browser took it to the frame in which its new numbers are painted, and to the
# end of computing. An opinion is that of the first key that has none yet; where all is saved, of
# every key: a page that falls behind asks for an opinion with the last of several answers.
TIMED = """() => { window.took = []; window.whole = []; let keys = [], last = null;
  const [opinion, computing, saved] = ['opinion', 'computing', 'saved'].map(id => document.getElementById(id));
  const tell = from => took.push(performance.now() - from);
  document.addEventListener('keydown', e => { if (/[1-9]/.test(e.key)) { keys.push(e.timeStamp); last = e.timeStamp } }, true);
  new MutationObserver(() => { const from = keys.shift(); if (from === undefined) return;
    requestAnimationFrame(() => { const painted = new MessageChannel();
      painted.port1.onmessage = () => { tell(from); while (keys.length && saved.textContent === 'Saved') tell(keys.shift()) };
      painted.port2.postMessage(0) }) })
    .observe(opinion, { childList: true });
  new MutationObserver(() => { if (computing.hidden && last !== null) { whole.push(performance.now() - last); last = null } })
    .observe(computing, { attributes: true }) }"""


def told(took):
    """Return how many milliseconds it took, in a figure's words."""
    took = sorted(took)
    return f"{took[len(took) // 2]:.0f} and {took[int(0.95 * len(took))]:.0f} ms"


@needs_browser
def test_a_new_opinion_follows_every_key(tmp_path, figures):
    with running(tmp_path) as bench, chromium() as browser:
        page = browser.new_page()
        page.goto(bench.opens)
        practise(page)
        for name, keys in READ.items():
            page.evaluate("name => { location.hash = name }", name)
            until(page, "name => !document.getElementById(`trait-${name}`).hidden", name)
            press(page, keys)
        for name in NAMED:  # so that each key below changes something
            page.evaluate("name => { location.hash = name }", name)
            until(page, "name => !document.getElementById(`trait-${name}`).hidden", name)
            page.keyboard.press("2")
        saved(page)
        page.evaluate(TIMED)
        for gap in (1200, 400):
            page.wait_for_timeout(2500)
            page.evaluate("took.length = whole.length = 0")
            for i in range(KEYS):
                page.evaluate("name => { location.hash = name }", NAMED[i % 5])
                until(
                    page, "name => !document.getElementById(`trait-${name}`).hidden", NAMED[i % 5]
                )
                page.wait_for_timeout(30)
                page.keyboard.press("12"[(i // 5) % 2])
                page.wait_for_timeout(gap)
            took, whole = page.evaluate("[took, whole]")
            said = f"a key every {gap / 1000:g} s, {len(took)} new opinions painted, median and 95th percentile"
            figure(figures, said, told(took), "95th percentile under 150 ms")
            assert len(took) >= KEYS * 0.9
            if gap > 1000:
                said = f"a key every {gap / 1000:g} s, {len(whole)} times intervals and typicality"
                figure(figures, said, told(whole), "within 1,000 ms")
                assert whole
