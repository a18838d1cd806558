"""How soon the first chart stands on a slow phone, against an empty page of the same server.

Debian's chromium with a phone's window, its processor slowed down six times through the DevTools
protocol. Each run opens the page in a fresh context, so that nothing was kept. What is timed is
from the start of the navigation until the script's own chart is on the canvas; the server's
drawing stands there before.
"""

import gzip
import statistics
import urllib.request

from playwright.sync_api import Browser, sync_playwright

from chamberwatch.web.rendering import STATIC, vendored
from tests.bench.told import Told
from tests.browser.served import CHROMIUM, FLAGS, PHONE, served
from tests.browser.week_scenes import usual_week, with_charts

SLOWER = 6
RUNS = 5
LIMIT_S = 1.5
LIMIT_KB = 400


def _opened(browser: Browser, address: str, script: str) -> tuple[float, float]:
    """Open a page in a fresh context; return what a script tells of it, and the processor's time.

    Both in ms. The second is that of the page's main thread alone, so that it tells the same on a
    machine that has other things to do.
    """
    context = browser.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]}, device_scale_factor=2, has_touch=True
    )
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    page.goto(address)
    page.wait_for_function(f"() => {script}")
    told = float(page.evaluate(script))
    metrics = session.send("Performance.getMetrics")["metrics"]
    busy_s = next(each["value"] for each in metrics if each["name"] == "ThreadTime")
    context.close()
    return told, busy_s * 1000


DRAWN_AT = "document.getElementById('week').dataset.first"
PAINTED_AT = (
    "(performance.getEntriesByName('first-contentful-paint')[0] || {}).startTime"  # the server's
)


def drawing(told: Told) -> None:
    """The first chart of a week at six-fold slowness, against an empty page."""
    script = vendored("echarts.min.js")
    if not CHROMIUM.exists() or not script:
        told.add("first chart", "not measured", how="needs chromium and the charts' script")
        return
    with served(usual_week(), with_charts) as address, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        empty = f"{address}/problems"
        ours, plain, painted = [], [], []
        for _ in range(RUNS):
            plain.append(_opened(browser, empty, PAINTED_AT))
            painted.append(_opened(browser, f"{address}/week", PAINTED_AT))
            ours.append(_opened(browser, f"{address}/week", DRAWN_AT))
        browser.close()
        sent_kb = _sent_kb(f"{address}{script}")
        data_kb = _packed_kb(f"{address}/api/v1/chambers/tent/chart?from=2026-01-13T12:00:00Z")
    took, limit = (statistics.median(t for t, _ in each) for each in (ours, plain))
    busy, busy_plain = (statistics.median(b for _, b in each) for each in (ours, plain))
    first = statistics.median(t for t, _ in painted)
    told.add(
        f"first chart at {SLOWER}-fold slowness",
        f"{took / 1000:.2f} s",
        limit=f"{limit / 1000:.2f} s",
        ratio=took / limit,
        aim=f"< {LIMIT_S} s",
        met=took < LIMIT_S * 1000,
        how=f"limit: a page of words; median of {RUNS}; the server's drawing after {first:.0f} ms",
    )
    told.add(
        "its share of the processor",
        f"{busy / 1000:.2f} s",
        limit=f"{busy_plain / 1000:.2f} s",
        ratio=busy / busy_plain,
        aim=f"< {LIMIT_S} s",
        met=busy < LIMIT_S * 1000,
        how="main thread, at the same slowness; limit: the page of words",
    )
    told.add(
        "script of the charts",
        f"{sent_kb:.0f} kB",
        aim=f"< {LIMIT_KB} kB",
        met=sent_kb < LIMIT_KB,
        how="as sent",
    )
    told.add(
        "data of a week",
        f"{data_kb:.0f} kB",
        aim="< 60 kB",
        met=data_kb < 60,
        how="packed, 1000 points a line",
    )
    own = sum(len(gzip.compress(path.read_bytes())) for path in STATIC.glob("week*.js")) / 1000
    told.add("our own scripts of the page", f"{own:.0f} kB", how="packed")


def _sent_kb(address: str) -> float:
    asked = urllib.request.Request(address, headers={"Accept-Encoding": "gzip"})  # noqa: S310
    with urllib.request.urlopen(asked, timeout=10) as answer:  # noqa: S310
        return len(answer.read()) / 1000


def _packed_kb(address: str) -> float:
    rest = (
        "&to=2026-01-20T12:00:00Z&points=1000"
        "&quantities=humidity_pct,temperature_c,dew_point_c,co2_ppm,vpd_kpa"
    )
    with urllib.request.urlopen(address + rest, timeout=10) as answer:  # noqa: S310
        return len(gzip.compress(answer.read())) / 1000
