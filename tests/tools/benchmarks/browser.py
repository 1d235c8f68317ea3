"""How quick the pages are in a real browser: first curves, and an update after a handle moves.

    python -m tests.tools.benchmarks.browser

Three candidates; 120 airspeeds on the served page. The plain alternative is what a person without
the page does for each move: the whole comparison again.
"""

from __future__ import annotations

import shutil
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

import uvicorn
from playwright.sync_api import Page, sync_playwright

import thrustlapse as tl
from tests.browser.conftest import NAMES, QUIET
from thrustlapse.served.app import make_app
from thrustlapse.served.scenario_editor import ScenarioEditor
from thrustlapse.served.server import listen

STORY = Path("scenarios/three_ways_to_push.toml")
LOADS, MOVES = 7, 41
EXIT = ("candidates", "blower", "nozzle", "exit_diameter")

PAGE_MOVE = """(count) => { const times = [];

  for (let i = 0; i < count; i += 1) { const start = performance.now();
    lapse.read({ drive: 300 + 5 * i }); times.push(performance.now() - start); }
  return times; }"""

SERVED_MOVE = """async (count) => { const times = [];
  const slide = document.querySelector('.live-handle input[type=range]');
  for (let i = 0; i < count; i += 1) { const start = performance.now();
    slide.value = String(12 + 0.1 * i); slide.dispatchEvent(new Event('input'));
    await new Promise((done) => { const look = () => (lapse.quiet ? done() : setTimeout(look, 1));
      setTimeout(look, 1); });
    times.push(performance.now() - start); }
  return times; }"""


def loads(page: Page, address: str) -> list[float]:
    """Seconds from asking for the page to its first curves."""
    times = []
    for _ in range(LOADS):
        start = time.perf_counter()
        page.goto(address)
        page.wait_for_function("() => lapse.shown")
        times.append(time.perf_counter() - start)
    return times


def main() -> None:
    scenario = tl.read_scenario(STORY)
    start = time.perf_counter()
    answer = tl.compare(scenario)
    whole = time.perf_counter() - start
    path = next(found for found in map(shutil.which, NAMES) if found)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=list(QUIET))
        page = browser.new_page()
        written = tl.write_report(answer, Path(folder) / "out",
                                  live=tl.live_table(scenario, answer))
        first = median(loads(page, written.resolve().as_uri()))
        moves = median(page.evaluate(PAGE_MOVE, MOVES))
        print(f"write-up: first curves {first:.2f} s, a move {moves:.1f} ms (reading the table)")

        editor = ScenarioEditor(file=STORY, folder=Path(folder))
        app = make_app(editor)
        listening = listen(0)
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off", ws="none"))
        threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
        while not server.started:
            time.sleep(0.01)
        address = f"http://127.0.0.1:{listening.getsockname()[1]}/{app.state.secret}/"
        first = median(loads(page, address))
        moves = median(page.evaluate(SERVED_MOVE, MOVES))
        times = []
        for step in range(MOVES):
            start = time.perf_counter()
            editor.picture({EXIT: f"{12.0 + 0.1 * step:.1f} mm"})
            times.append(time.perf_counter() - start)
        print(f"served: first curves {first:.2f} s, a move {moves:.0f} ms in the browser, of which "
              f"the solver {1e3 * median(times):.0f} ms; the whole comparison {whole:.2f} s, "
              f"{1e3 * whole / moves:.0f} times as long")
        server.should_exit = True
        browser.close()


if __name__ == "__main__":
    main()
