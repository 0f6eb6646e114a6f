import logging

import pytest

from curewatch.intake.thinned import ThinnedLog


@pytest.fixture
def thinned(caplog: pytest.LogCaptureFixture) -> ThinnedLog:
    caplog.set_level(logging.INFO)
    return ThinnedLog(logging.getLogger("line"))


def test_a_trouble_is_said_once_then_every_ten_minutes_with_a_count(
    thinned: ThinnedLog, caplog: pytest.LogCaptureFixture
) -> None:
    for second in range(0, 1201, 60):
        thinned.say("no broker", float(second))
    assert caplog.messages == [
        "no broker",
        "still, 9 times in 10 min: no broker",
        "still, 9 times in 10 min: no broker",
    ]
    assert thinned.trouble == "no broker"


def test_recovery_is_said_once(thinned: ThinnedLog, caplog: pytest.LogCaptureFixture) -> None:
    thinned.recovered("back")
    thinned.say("no broker", 0.0)
    thinned.say("no broker", 1.0)
    thinned.recovered("back")
    thinned.recovered("back")
    assert caplog.messages == ["no broker", "back"]
    assert thinned.trouble is None


def test_a_trouble_that_comes_and_goes_is_not_said_each_time(
    thinned: ThinnedLog, caplog: pytest.LogCaptureFixture
) -> None:
    for second in range(100):
        thinned.say("thrown out", float(second))
        thinned.recovered("back")
    assert caplog.messages == ["thrown out", "back"]


def test_a_trouble_long_past_is_said_as_new(
    thinned: ThinnedLog, caplog: pytest.LogCaptureFixture
) -> None:
    thinned.say("no broker", 0.0)
    thinned.recovered("back")
    thinned.say("no broker", 9000.0)
    assert caplog.messages == ["no broker", "back", "no broker"]


def test_ever_new_troubles_do_not_fill_the_memory(thinned: ThinnedLog) -> None:
    for number in range(1000):
        thinned.say(f"trouble {number}", 0.0)
    assert len(thinned._said) <= 50  # noqa: SLF001 - the bound is the behaviour
