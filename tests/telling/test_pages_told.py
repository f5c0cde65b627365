"""What is said of pages: counted, and what is estimated of them apart."""

from server.analytics.figure_types import Channel
from server.telling.channel import pages_words


def test_what_is_estimated_of_pages_is_called_so_and_said_to_be_in_no_other_figure() -> None:
    some = Channel(1.0, pages=4, pages_estimated=2, pages_airtime_estimated_s=4.03)
    assert pages_words(some) == (
        "4\u00a0pages in all; 2\u00a0pages without a length in the log: their lengths are estimated from bit rate and "
        "size, 4.0\u00a0s on the air in all, which is in no other figure."
    )
    assert pages_words(Channel(1.0, pages=1, pages_estimated=0)) == "1\u00a0page in all."
    assert pages_words(Channel(1.0, pages=0)) == pages_words(Channel(0.0)) == ""
