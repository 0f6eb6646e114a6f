import pytest

from tests.broker.mosquitto import installed


def test_a_missing_program_is_a_skip_with_the_fix_at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="apt-get install nothing"):
        installed("no-such-program", "nothing")


def test_a_missing_program_is_a_failure_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "1")
    with pytest.raises(pytest.fail.Exception, match="apt-get install nothing"):
        installed("no-such-program", "nothing")
