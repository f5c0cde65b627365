"""Which links a line is about, and what a link is called (definitions.md, Links; no source outside of it)."""

from hypothesis import given
from hypothesis import strategies as st

from server.analytics.linking import Key, changes_by_link
from server.telling.links import link_name

A, B, OTHER = ("moorland", "dmr", "99920"), ("moorland", "dstar", "FELLS C"), ("fellnet", None, None)


def test_a_link_is_called_by_network_mode_and_target_as_far_as_they_are_given() -> None:
    assert link_name(*A) == "moorland, DMR 99920" and link_name("moorland", "m17", None) == "moorland, M17"
    assert link_name("moorland", None, None) == "moorland" and link_name(None, "dmr", None) == "DMR"
    assert link_name(None, None, "99920") == "99920" and link_name(None, None, None) == "link"


def test_a_link_down_that_names_less_ends_all_links_that_it_fits() -> None:
    found = changes_by_link([(1, True, A), (2, True, B), (3, True, OTHER), (9, False, ("moorland", None, None))])
    assert found == {A: [(1, True), (9, False)], B: [(2, True), (9, False)], OTHER: [(3, True)]}


def test_a_link_that_was_down_already_is_not_lost_again_by_a_lesser_name() -> None:
    found = changes_by_link([(1, True, A), (2, False, A), (3, True, B), (9, False, ("moorland", None, None))])
    assert found == {A: [(1, True), (2, False)], B: [(3, True), (9, False)]}


def test_what_was_lost_under_a_lesser_name_is_back_when_a_link_of_it_is() -> None:
    less = ("moorland", None, None)
    assert changes_by_link([(1, False, less), (5, True, A)]) == {less: [(1, False), (5, True)], A: [(5, True)]}


def test_an_up_that_names_less_brings_back_what_it_fits() -> None:
    assert changes_by_link([(1, True, A), (2, False, A), (5, True, ("moorland", None, None))]) == {
        A: [(1, True), (2, False), (5, True)]
    }


parts = st.tuples(
    st.sampled_from(["moorland", None]), st.sampled_from(["dmr", "dstar", None]), st.sampled_from(["1", None])
)


@given(st.lists(st.tuples(st.booleans(), parts), max_size=12))
def test_no_line_is_lost_and_changes_stay_in_order(said: list[tuple[bool, Key]]) -> None:
    events = [(at, up, key) for at, (up, key) in enumerate(said)]
    found = changes_by_link(events)
    for mine in found.values():
        assert [at for at, _ in mine] == sorted({at for at, _ in mine})
    told = {at for mine in found.values() for at, _ in mine}
    for (
        at,
        up,
        key,
    ) in events:  # a line without effect is a loss of what was lost already, or a return of what was there
        assert at in told or any(mine and dict_before(mine, at) == up for mine in found.values()), (at, up, key)


def dict_before(mine: list[tuple[int, bool]], at: int) -> bool | None:
    return next((up for when, up in reversed(mine) if when < at), None)
