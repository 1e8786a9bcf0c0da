import pytest

from claywit.model.once import once


@pytest.fixture
def counted():
    calls = []

    @once(2)
    def length(value):
        calls.append(value)
        return len(value)

    return length, calls


def test_a_value_is_worked_out_once(counted):
    length, calls = counted
    value = [1, 2]
    assert [length(value), length(value)] == [2, 2]
    assert len(calls) == 1


def test_an_equal_value_is_not_the_same_value(counted):
    length, calls = counted
    assert [length([1]), length([1])] == [1, 1]
    assert len(calls) == 2


def test_the_value_asked_for_longest_ago_is_forgotten(counted):
    length, calls = counted
    values = [[1], [2], [3]]
    for value in (values[0], values[1], values[0], values[2], values[0], values[1]):
        length(value)
    assert calls == [values[0], values[1], values[2], values[1]]
