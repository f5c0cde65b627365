"""The pages for signing in and out: all that their template gets."""

from dataclasses import dataclass

from server.web.shell import Links, Shell


@dataclass(frozen=True)
class SignView:
    """What sign.html gets, and nothing else: signing in, and out."""

    shell: Shell  #: frame of the page
    signing_out: bool  #: which of the two forms
    action: str  #: where it goes
    token: str  #: ties the form to this visitor
    then: str  #: the page to go on to, without the prefix
    trouble: str  #: what was wrong with the last attempt


def sign_in_view(links: Links, token: str, then: str, trouble: str) -> SignView:
    """For a stranger, so it doesn't tell whose pages these are."""
    shell = links.shell("Sign in", "", "/logout", False, nav=False)
    return SignView(shell, False, links.to("/login"), token, then, trouble)


def sign_out_view(links: Links, token: str, trouble: str) -> SignView:
    shell = links.shell("Sign out", "", "/logout", True)
    return SignView(shell, True, links.to("/logout"), token, "/", trouble)
