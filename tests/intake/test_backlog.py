from curewatch.intake.backlog import BacklogWatch


def test_a_new_session_has_no_backlog() -> None:
    watch = BacklogWatch()
    assert watch.connected(0.0, session_present=False) is None
    assert watch.arrived(0.1) is False


def test_everything_before_the_marker_may_have_waited_and_nothing_after() -> None:
    watch = BacklogWatch()
    marker = watch.connected(0.0, session_present=True)
    assert marker is not None
    assert [watch.arrived(0.1), watch.arrived(0.2)] == [True, True]
    watch.returned(marker)
    assert watch.arrived(0.3) is False
    assert not watch.marker_lost


def test_the_marker_of_an_earlier_connection_ends_nothing() -> None:
    watch = BacklogWatch()
    old = watch.connected(0.0, session_present=True)
    new = watch.connected(1.0, session_present=True)
    assert old is not None
    assert new is not None
    watch.returned(old)
    assert watch.in_doubt
    watch.returned(new)
    assert not watch.in_doubt


def test_a_pause_ends_the_doubt_where_the_marker_does_not_return() -> None:
    watch = BacklogWatch()
    watch.connected(0.0, session_present=True)
    assert watch.arrived(1.9) is True
    assert watch.arrived(3.8) is True
    assert watch.arrived(5.9) is False
    assert watch.marker_lost


def test_a_pause_before_our_own_acknowledgement_ends_nothing() -> None:
    # A broker at a full window waits for us, not the other way about.
    watch = BacklogWatch()
    watch.connected(0.0, session_present=True)
    watch.arrived(0.1)
    assert watch.acknowledged(10.0, oldest_s=0.1) is None
    assert watch.arrived(10.1) is True


def test_a_slow_acknowledgement_brings_the_doubt_back() -> None:
    watch = BacklogWatch()
    watch.connected(0.0, session_present=False)
    assert watch.acknowledged(30.0, oldest_s=0.0) is None
    marker = watch.acknowledged(30.1, oldest_s=0.0)
    assert marker is not None
    assert watch.arrived(30.2) is True
    watch.returned(marker)
    assert watch.arrived(30.3) is False
