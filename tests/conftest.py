"""What the tests share: repeatable properties, and a few marches that many tests look at."""

from __future__ import annotations

import signal
from dataclasses import replace

import pytest
from hypothesis import settings
from small import BANK, TRANSFORMER, Marched, coarse, marched

from nugget.api import Weld, simulate

# The same examples every time, so that a run says what the change did and nothing else; no
# deadline, as other work on the machine makes single examples slow.
settings.register_profile("tests", deadline=None, derandomize=True, max_examples=60)
settings.register_profile("nightly", deadline=None, derandomize=False, max_examples=400, print_blob=True)
settings.load_profile("tests")


def pytest_configure(config: pytest.Config) -> None:
    if config.option.markexpr == "nightly":
        settings.load_profile("nightly")
    # A script that starts the tests in the background lets them, and all that they start, ignore Ctrl-C.
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            item.add_marker("nightly")


@pytest.fixture(autouse=True)
def few_welds(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A statement rests on few welds where other things are tested, unless a module says `MANY_WELDS`."""
    if not getattr(request.module, "MANY_WELDS", False):
        monkeypatch.setattr("nugget.study.statement.statement.WELDS", (8,))


@pytest.fixture(scope="session")
def melting() -> Marched:
    """The default weld as a march: 2.5 ms, so that the strip melts; the tip lifts at 2.6 ms."""
    return marched(coarse("pulse.0.duration=2.5 ms", until_ms=4, name="default"))


@pytest.fixture(scope="session")
def weld() -> Weld:
    """The default weld as a result: 2.5 ms, until the interior has passed its peak."""
    return simulate(coarse("pulse.0.duration=2.5 ms", name="default"))


@pytest.fixture(scope="session")
def bank() -> Marched:
    """Two pulses from capacitors, 0.3 and 0.2 ms, 0.2 ms apart."""
    setup = coarse(*BANK, "pulse.0.duration=0.3 ms", "pulse.0.cool_time=0.2 ms", until_ms=0.8)
    first = setup.train[0]
    return marched(setup.with_({"pulse": [first, replace(first, duration_s=0.2e-3, cool_time_s=0.0)]}))


@pytest.fixture(scope="session")
def transformer() -> Marched:
    """One period of 1 kHz, fired at the voltage zeros."""
    return marched(coarse(*TRANSFORMER, "source.firing_angle=0 deg", "pulse.0.duration=1 ms", until_ms=1.5))


@pytest.fixture(scope="session")
def slopes() -> Marched:
    """A regulated current with slopes, 0.2 ms, and after 0.1 ms a short one without."""
    setup = coarse("source.kind=constant current", "source.current=1200 A", until_ms=0.7)
    first = replace(
        setup.train[0], duration_s=0.2e-3, upslope_s=0.05e-3, downslope_s=0.08e-3, cool_time_s=0.1e-3
    )
    return marched(setup.with_({"pulse": [first, replace(first, duration_s=0.1e-3, upslope_s=0.0)]}))
